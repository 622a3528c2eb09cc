"""``foldspan converge``: rows and strips refined, limits, the lattice for a wanted error."""

from pathlib import Path
from typing import Literal

import click

from vlm.cli.answering import echo_answer, echo_json, report_warnings
from vlm.cli.checks import checked_angle, chosen_folds
from vlm.cli.options import (
    alpha_option,
    any_wake_option,
    beta_option,
    fold_options,
    geometry_options,
    json_option,
    plot_option,
)
from vlm.cli.within import within_studied_option


@click.command("converge")
@geometry_options
@alpha_option
@beta_option
@fold_options
@click.option(
    "--rows", type=click.IntRange(4, 100), default=16, show_default=True,
    help="Most chordwise rows; a half and a quarter of them are solved too.",
)  # fmt: skip
@click.option(
    "--strips", type=click.IntRange(16, 400), default=40, show_default=True,
    help="Most spanwise strips; a half and a quarter of them are solved too.",
)  # fmt: skip
@within_studied_option
@any_wake_option
@plot_option
@json_option
def command(
    file: str,
    overrides: tuple[str, ...],
    alpha: float,
    beta: float,
    fold: float | None,
    fold_left: float | None,
    fold_right: float | None,
    configuration: str | None,
    rows: int,
    strips: int,
    within: tuple[str, ...],
    wake: Literal["craft", "relaxed", "stream"],
    plot: Path | None,
    as_json: bool,
) -> None:
    """Values on nine lattices, observed orders, extrapolated values, and the smallest lattice
    that reaches a wanted error.

    Errors are shares of a quantity's natural size: the magnitudes of its parts added up.
    """
    checked_angle("alpha", alpha, 180.0)
    checked_angle("beta", beta, 90.0)
    from math import radians

    from vlm.cli.craft import load_biplane
    from vlm.cli.ranges import checked_picture
    from vlm.cli.within import studied, wanted_errors
    from vlm.lattice.cellule import Grid
    from vlm.loads.state import FlightState
    from vlm.study.convergence.report import convergence_document
    from vlm.study.convergence.study import Levels

    checked_picture(plot)
    wanted = wanted_errors(within) if within else None
    craft = load_biplane(file, overrides)
    folds = chosen_folds(craft, fold, fold_left, fold_right, configuration)
    state = FlightState(radians(alpha), radians(beta))
    study = studied(craft, folds, state, Levels.up_to(rows, strips), wake)
    document = convergence_document(study, wanted, Grid())
    if plot is not None:
        from vlm.show.plots.convergence import save_convergence_picture

        save_convergence_picture(document, plot)
    if as_json:
        echo_json(document)
    else:
        from vlm.show.tables.convergence import convergence_table

        echo_answer(convergence_table(document), study.findings)
    report_warnings(study.findings, strict=False)
