"""``foldspan point``: everything about one setting."""

from typing import Literal

import click

from vlm.cli.answering import echo_answer, echo_json, report_warnings
from vlm.cli.checks import (
    airspeed_is_given,
    checked_air,
    checked_angle,
    checked_rates,
    chosen_folds,
)
from vlm.cli.options import (
    air_options,
    any_wake_option,
    beta_option,
    fold_options,
    full_option,
    geometry_options,
    grid_options,
    json_option,
    strict_option,
    thrust_option,
)
from vlm.cli.within import within_option


@click.command("point")
@geometry_options
@click.option("--alpha", type=float, required=True, help="Angle of attack, nose up [deg].")
@beta_option
@fold_options
@air_options
@click.option("--p-hat", type=float, default=0.0, help="Roll rate p b / 2U, starboard down.")
@click.option("--q-hat", type=float, default=0.0, help="Pitch rate q c / 2U, nose up.")
@click.option("--r-hat", type=float, default=0.0, help="Yaw rate r b / 2U, nose to starboard.")
@thrust_option
@grid_options
@within_option
@any_wake_option
@click.option("--no-errors", is_flag=True, help="Leave out the error estimate (quicker).")
@strict_option
@full_option
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
    airspeed: float,
    density: float,
    p_hat: float,
    q_hat: float,
    r_hat: float,
    thrust: float | Literal["trim"] | None,
    rows: int,
    strips: int,
    within: tuple[str, ...],
    wake: Literal["craft", "relaxed", "stream"],
    no_errors: bool,
    strict: bool,
    full: bool,
    as_json: bool,
) -> None:
    """Loads, derivatives, hinge moments and strip loads of one setting.

    Angles in degrees; Cl is positive starboard wing down, Cm nose up, Cn nose to starboard. A
    negative Cl_beta is a stable dihedral effect.
    """
    checked_air(airspeed, density)
    checked_angle("alpha", alpha, 180.0)
    checked_angle("beta", beta, 90.0)
    checked_rates(p_hat=p_hat, q_hat=q_hat, r_hat=r_hat)
    from math import radians

    from vlm.cli.craft import load_biplane
    from vlm.cli.within import chosen_lattice
    from vlm.lattice.cellule import Grid
    from vlm.loads.state import FlightState
    from vlm.study.point.document import point_document
    from vlm.study.point.point import solve_point

    craft = load_biplane(file, overrides)
    folds = chosen_folds(craft, fold, fold_left, fold_right, configuration)
    state = FlightState(
        radians(alpha), radians(beta), p_hat, q_hat, r_hat, airspeed=airspeed, density=density
    )
    chosen = chosen_lattice(craft, [folds], state, within, wake) if within else None
    report = solve_point(
        craft,
        folds,
        state,
        grid=Grid(rows, strips) if chosen is None else chosen.grid,
        wake=wake,
        errors=not no_errors,
        thrust=thrust,
        weigh_slipstream=airspeed_is_given(thrust),
    )
    if chosen is not None and not no_errors:
        report = chosen.with_errors(report)
    if as_json:
        echo_json(point_document(report))
    else:
        from vlm.show.tables.point import point_table

        echo_answer(point_table(craft.title, report, full=full), report.findings)
    report_warnings(report.findings, strict=strict)
