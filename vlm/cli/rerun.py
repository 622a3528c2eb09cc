"""``foldspan rerun``: compute a saved sweep again and compare."""

from pathlib import Path

import click

from vlm.cli.options import echo_json, json_option, note

MOST_TOLD = 20
"""Differences that are told one by one."""


@click.command("rerun")
@click.argument("result", metavar="RESULT.nc", type=click.Path(path_type=Path, dir_okay=False))
@click.option("--workers", type=click.IntRange(1, 256), default=1, help="Local processes.")
@json_option
def command(result: Path, workers: int, as_json: bool) -> None:
    """Repeat the sweep that RESULT.nc holds and compare everything in the file with it.

    The file carries its geometry, the tables it names, its plan and its version; no other file is
    read. The same version must agree to 1e-12 of each variable's largest value, another to 1e-9,
    and so must coordinates, units, labels and references; status 3, and what differs, if not.
    """
    from tqdm import tqdm

    from vlm.description.files import cut_path
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
                "differences": [d.sentence() for d in found.differences],
                "notes": [d.sentence() for d in found.notes],
            }
        )  # fmt: skip
    else:
        rows = [[name, f"{value:.1e}"] for name, value in sorted(found.worst.items())]
        click.echo(table(["variable", "difference over largest value"], rows))
    for said in found.notes:
        note(f"version {found.version} had it otherwise: {said.sentence()}")
    for said in found.differences[:MOST_TOLD]:
        note(said.sentence())
    if not found.agrees:
        raise ComputationFailed(
            f"{cut_path(result)}: {_counted(len(found.differences))} from the sweep it says it is"
            f" (written by version {found.version}; numbers may differ by {found.limit:.0e})"
        )
    limit = f"{found.limit:.0e} (written by version {found.version})"
    note(f"{cut_path(result)}: agrees within {limit}")


def _counted(count: int) -> str:
    return "one thing differs" if count == 1 else f"{count} things differ"
