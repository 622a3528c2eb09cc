"""``foldspan mission``: what folding is worth over a mission."""

from pathlib import Path

import click

from vlm.cli.answering import echo_answer, echo_json, note_written, report_warnings, show_shares
from vlm.cli.checks import standing_air
from vlm.cli.hearing import shown_progress
from vlm.cli.options import (
    chart_options,
    full_option,
    geometry_options,
    json_option,
    keep_option,
    legs_option,
    plot_option,
    sensitivity_options,
    strict_option,
    trim_options,
)
from vlm.findings import Finding
from vlm.study.asked import MISSION_FOLDS


@click.command("mission")
@geometry_options
@legs_option
@trim_options(MISSION_FOLDS)
@full_option
@strict_option
@plot_option
@sensitivity_options
@keep_option
@json_option
@chart_options
def command(
    file: str,
    overrides: tuple[str, ...],
    legs_file: str | None,
    fold_count: int,
    rows: int,
    strips: int,
    altitude: float,
    density: float | None,
    full: bool,
    strict: bool,
    plot: Path | None,
    sensitivity: bool,
    plot_sensitivity: Path | None,
    keep: Path | None,
    as_json: bool,
) -> None:
    """Time, energy and battery over a mission: folding against crafts that do not fold.

    The legs stand in [[mission]] of FILE or of MISSION; [schedule] of FILE holds the constraints.
    Compared are the schedule, every symmetric named configuration, the best single fold, and the
    same craft without the folding mechanism, also with other tips.
    """
    from vlm.cli.craft import load_biplane
    from vlm.cli.ranges import checked_picture
    from vlm.description.mission_file import load_mission
    from vlm.lattice.cellule import Grid
    from vlm.study.kept_answers import TrimTable
    from vlm.study.mission.kept import mission_answer
    from vlm.study.sensitivity import check_uncertainty

    checked_picture(plot)
    checked_picture(plot_sensitivity)
    craft = load_biplane(file, overrides)
    asked = sensitivity or plot_sensitivity is not None
    if asked:
        check_uncertainty(craft)
    read = None if legs_file is None else load_mission(legs_file)
    legs, title = (craft.mission, "") if read is None else (read.mission, read.title)
    with shown_progress() as report:
        document = mission_answer(
            craft, legs, TrimTable(fold_count, standing_air(altitude, density), Grid(rows, strips)),
            title=title, report=report, keep=keep, sensitivity=asked,
        )  # fmt: skip
    findings = [Finding(**finding) for finding in document["findings"]]
    if plot is not None:
        from vlm.show.plots.mission import save_mission_picture

        save_mission_picture(document, plot)
        note_written(plot)
    if as_json:
        echo_json(document)
    else:
        from vlm.show.tables.mission import mission_table

        echo_answer(mission_table(document, full=full), findings)
    show_shares(
        document["uncertain_inputs"], document["mission"], plot_sensitivity, as_json=as_json
    )
    report_warnings(findings, strict=strict)
