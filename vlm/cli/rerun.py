"""``foldspan rerun``: compute a saved sweep again and compare."""

from pathlib import Path

import click

from vlm.cli.options import echo_json, json_option, note


@click.command("rerun")
@click.argument("result", metavar="RESULT.nc", type=click.Path(path_type=Path, dir_okay=False))
@click.option("--workers", type=click.IntRange(1, 256), default=1, help="Local processes.")
@json_option
def command(result: Path, workers: int, as_json: bool) -> None:
    """Repeat the sweep that RESULT.nc holds and compare every number with it.

    The file carries its geometry, its plan and its version. The same version must agree to
    1e-12 of each variable's largest value, another to 1e-9; status 3 if it does not.
    """
    from tqdm import tqdm

    from vlm.errors import ComputationFailed
    from vlm.show.tables.layout import table
    from vlm.study.repeating import repeated

    with tqdm(total=None, unit="fold", leave=False, disable=None) as bar:

        def report(done: int, total: int) -> None:
            bar.total = total
            bar.update(done - bar.n)

        found = repeated(result, workers=workers, report=report)
    if as_json:
        echo_json(
            {
                "version": found.version, "limit": found.limit, "agrees": found.agrees,
                "worst": {k: v if v < float("inf") else None for k, v in found.worst.items()},
            }
        )  # fmt: skip
    else:
        rows = [[name, f"{value:.1e}"] for name, value in sorted(found.worst.items())]
        click.echo(table(["variable", "difference over largest value"], rows))
    if not found.agrees:
        bad = [name for name, value in found.worst.items() if value > found.limit]
        raise ComputationFailed(
            f"{result}: {', '.join(bad)} differ by more than {found.limit:.0e} from the result"
            f" of version {found.version}"
        )
    note(f"{result}: agrees within {found.limit:.0e} (written by version {found.version})")
