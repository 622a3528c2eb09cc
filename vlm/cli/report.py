"""``foldspan report``: everything about a craft on one page that opens offline."""

from pathlib import Path

import click

from vlm.cli.answering import note, note_written
from vlm.cli.checks import checked_angle, level_air
from vlm.cli.hearing import shown_progress
from vlm.cli.options import (
    chart_options,
    geometry_options,
    grid_options,
    legs_option,
    level_air_options,
    out_option,
    workers_option,
)
from vlm.cli.parameters import LogFile


@click.command("report")
@geometry_options
@out_option(
    "Page to write (.html).",
    required=True,
)
@click.option(
    "--alpha",
    type=float,
    default=4.0,
    show_default=True,
    help="Angle of attack of maps and tables [deg].",
)
@click.option(
    "--step",
    type=click.FloatRange(2.0, 90.0),
    default=15.0,
    show_default=True,
    help="Step of the map's folds [deg].",
)
@level_air_options
@grid_options
@click.option(
    "--log",
    type=LogFile(),
    help="Flight log to hold against the prediction, as the file's block [log] reads it: a path,"
    " or the name of a shipped one.",
)
@legs_option
@click.option(
    "--without",
    multiple=True,
    metavar="NAME",
    help="Leave out a study, such as power, for a quicker report. May be repeated.",
)
@workers_option
@click.option("--no-progress", is_flag=True, help="No progress on standard error.")
@chart_options
def command(
    file: str,
    overrides: tuple[str, ...],
    out: Path,
    alpha: float,
    step: float,
    airspeed: float | None,
    density: float,
    rows: int,
    strips: int,
    log: Path | None,
    legs_file: str | None,
    without: tuple[str, ...],
    workers: int,
    no_progress: bool,
) -> None:
    """One page for a browser, without network: answer, geometry, sweeps, maps, stability, loads.

    A section appears where the file has the blocks it needs. On the page the reader moves both
    tips over the map of folds. Printed from a browser it fits A4.
    """
    checked_angle("alpha", alpha, 30.0)
    checked_page(out)
    from vlm.cli.craft import load_biplane
    from vlm.disk import write_whole
    from vlm.lattice.cellule import Grid
    from vlm.show.report.page import report_page
    from vlm.study.report.data import ReportPlan, gathered_report

    craft = load_biplane(file, overrides)
    air = level_air(craft, airspeed, density)
    plan = ReportPlan(
        file=file,
        overrides=overrides,
        airspeed=air.airspeed,
        density=air.density,
        alpha_deg=alpha,
        alphas_deg=(alpha - 4.0, alpha, alpha + 4.0),
        step_deg=step,
        grid=Grid(rows, strips),
        log=log,
        legs=legs_file,
        without=checked_names(without),
    )
    with shown_progress(quiet=no_progress) as progress:
        data = gathered_report(craft, plan, progress, workers=workers)
    for name, why in data.reasons.items():
        note(f"left out: {name}: {why}")
    write_whole(out, report_page(data).encode())
    note_written(out)


def checked_names(names: tuple[str, ...]) -> tuple[str, ...]:
    """Names of studies a report may hold.

    Raises
    ------
    InputRefused : there is no such study
    """
    from vlm.errors import InputRefused
    from vlm.study.report.studies import STUDIES

    known = [study.name for study in STUDIES]
    for name in names:
        if name not in known:
            raise InputRefused(f"--without {name}; known are {', '.join(known)}")
    return names


def checked_page(path: Path) -> None:
    """Refuse a name that cannot be written.

    Raises
    ------
    InputRefused : another ending than .html
    """
    from vlm.errors import InputRefused

    if path.suffix != ".html":
        raise InputRefused(f"--out {path}; the ending must be .html (print it to PDF in a browser)")
