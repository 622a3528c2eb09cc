"""``foldspan rerun``: compute a saved sweep again and compare."""

from pathlib import Path
from typing import Any

import click

from vlm.cli.answering import echo_json, note
from vlm.cli.hearing import counted, shown_progress
from vlm.cli.options import full_option, json_option, no_cache_option, workers_option

MOST_TOLD = 20
"""Differences that are reported one by one."""


@click.command("rerun")
@click.argument("result", metavar="RESULT.nc", type=click.Path(path_type=Path, dir_okay=False))
@workers_option
@full_option
@json_option
@no_cache_option
def command(result: Path, workers: int, full: bool, as_json: bool) -> None:
    """Repeat the sweep that RESULT.nc holds and compare everything in the file with it.

    The file carries its geometry, the tables it names, its plan and its version; no other file is
    read. The same version must agree to 1e-12 of each variable's largest value, another to 1e-9,
    and so must coordinates, units, labels and references; status 3, and what differs, if not.
    """
    from vlm.description.files import cut_path
    from vlm.errors import ComputationFailed
    from vlm.study.sweep.repeating import repeated, rerun_document

    with shown_progress("fold") as progress:
        found = repeated(result, workers=workers, report=counted(progress, "folds"))
    if as_json:
        echo_json(rerun_document(found))
    else:
        click.echo(_answer(found, cut_path(result), full=full))
    for said in found.notes:
        note(f"version {found.version} had it otherwise: {said.sentence()}")
    for said in found.differences[:MOST_TOLD]:
        note(said.sentence())
    if not found.agrees:
        raise ComputationFailed(
            f"{cut_path(result)}: {_counted(len(found.differences))} from the sweep it says it is"
            f" (written by version {found.version}; numbers may differ by {found.limit:.0e})"
        )


def _answer(found: Any, name: str, *, full: bool) -> str:
    """Whether the sweep agrees, and the variables that differ at all; all of them with ``full``."""
    from vlm.show.text.answer import wrapped
    from vlm.show.text.layout import table

    verdict = "agrees within" if found.agrees else "does not agree within"
    said = (
        f"{name}: {verdict} {found.limit:.0e} (written by version {found.version}); largest"
        f" difference {max(found.worst.values(), default=0.0):.1e} in {len(found.worst)} variables."
    )
    shown = {name: value for name, value in sorted(found.worst.items()) if full or value != 0.0}
    if not shown:
        return wrapped(said)
    rows = [[name, f"{value:.1e}"] for name, value in shown.items()]
    return f"{wrapped(said)}\n\n{table(['variable', 'difference over largest value'], rows)}"


def _counted(count: int) -> str:
    return "one thing differs" if count == 1 else f"{count} things differ"
