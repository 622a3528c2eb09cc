"""``foldspan check``: what a file describes, what it can answer, what is hard to believe."""

from pathlib import Path

import click

from vlm.cli.answering import echo_json, note_written
from vlm.cli.options import geometry_options, json_option, plot_option, values_option


@click.command("check")
@geometry_options
@values_option("--folds", "--fold", "fold", words="Folds of the tables over fold [deg].")
@plot_option
@json_option
def command(
    file: str, overrides: tuple[str, ...], fold: str | None, plot: Path | None, as_json: bool
) -> None:
    """What a file describes, which commands can answer, and what is hard to believe.

    Dimensions, arrangement and clearance of the tips; masses, centre of gravity and inertia, wing
    and disc loading against fold; what each command lacks; numbers that do not go together. --plot
    draws three views with dimensions. Nothing is solved but one trim, for the balance in pitch.
    """
    from vlm.cli.ranges import checked_picture
    from vlm.cli.strict import not_yet_reported
    from vlm.description.loading import load_biplane
    from vlm.description.ranges import craft_range_findings
    from vlm.study.check.study import check_document, craft_check
    from vlm.study.sweep.plan import axis_values

    checked_picture(plot)
    craft = load_biplane(file, overrides)
    folds = axis_values(fold, "--folds") if fold is not None else None
    check = craft_check(craft, folds)
    findings = [*craft_range_findings(craft), *check.findings]
    not_yet_reported(findings)  # for --strict; they stand in the answer itself
    if plot is not None:
        from vlm.show.plots.three_views import save_three_views

        save_three_views(craft, check, plot)
        note_written(plot)
    if as_json:
        from dataclasses import asdict

        from vlm.plain import without_nan

        found = [asdict(one) for one in findings]
        echo_json(without_nan(check_document(check) | {"findings": found}))
        return
    from vlm.show.tables.check import check_table

    click.echo(check_table(check, findings))
