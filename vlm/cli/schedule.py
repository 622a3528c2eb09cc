"""``foldspan schedule``: the best fold at every airspeed, and a schedule that can be flown."""

from pathlib import Path

import click

from vlm.cli.answering import echo_answer, echo_json, note_written, report_warnings
from vlm.cli.checks import standing_air
from vlm.cli.hearing import shown_progress
from vlm.cli.options import (
    chart_options,
    full_option,
    geometry_options,
    json_option,
    keep_option,
    plot_option,
    strict_option,
    trim_options,
)
from vlm.cli.parameters import OutputFile
from vlm.errors import ComputationFailed
from vlm.study.asked import SCHEDULE_FOLDS


@click.command("schedule")
@geometry_options
@trim_options(SCHEDULE_FOLDS)
@click.option(
    "--csv",
    "csv_path",
    type=OutputFile(),
    help="Breakpoints for a flight controller to write.",
)
@click.option(
    "--allow-violations",
    is_flag=True,
    help="Write the breakpoints although a constraint is not kept; the file says where.",
)
@full_option
@strict_option
@plot_option
@keep_option
@json_option
@chart_options
def command(
    file: str,
    overrides: tuple[str, ...],
    fold_count: int,
    rows: int,
    strips: int,
    altitude: float,
    density: float | None,
    csv_path: Path | None,
    allow_violations: bool,
    full: bool,
    strict: bool,
    plot: Path | None,
    keep: Path | None,
    as_json: bool,
) -> None:
    """Fold of least electrical power at every airspeed of [schedule], within its constraints.

    Every fold that is printed is a trim solved at that very fold, with the margins of all
    constraints. The schedule as flown has few breakpoints, a limited slope and hysteresis; where it
    passes a constraint, the command ends with status 3 and writes no breakpoints.
    """
    from vlm.cli.craft import load_biplane
    from vlm.cli.ranges import checked_picture
    from vlm.disk import write_whole
    from vlm.lattice.cellule import Grid
    from vlm.study.kept_answers import TrimTable
    from vlm.study.schedule.kept import schedule_answer

    checked_picture(plot)
    craft = load_biplane(file, overrides)
    with shown_progress() as report:
        table = TrimTable(fold_count, standing_air(altitude, density), Grid(rows, strips))
        answer = schedule_answer(craft, table, report, keep)
    if csv_path is not None and answer.csv and (allow_violations or not answer.violation):
        write_whole(csv_path, answer.csv.encode())
        note_written(csv_path)
    if plot is not None:
        from vlm.show.plots.schedule import save_schedule_picture

        save_schedule_picture(answer.document, plot)
        note_written(plot)
    if as_json:
        echo_json(answer.document)
    else:
        from vlm.show.tables.schedule import schedule_table

        echo_answer(schedule_table(answer.document, full=full), answer.findings)
    report_warnings(answer.findings, strict=strict)
    if answer.violation and not allow_violations:
        unwritten = "" if csv_path is None else f"; {csv_path} is not written (--allow-violations)"
        raise ComputationFailed(f"{answer.violation}{unwritten}")
