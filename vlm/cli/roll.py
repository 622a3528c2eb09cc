"""``foldspan roll``: rolling by folding one tip against the other."""

from functools import partial
from pathlib import Path
from typing import Literal

import click

from vlm.cli.answering import show_study
from vlm.cli.checks import checked_angle, level_air
from vlm.cli.hearing import shown_progress
from vlm.cli.options import (
    geometry_options,
    level_air_options,
    study_options,
    values_option,
)


@click.command("roll")
@geometry_options
@click.option(
    "--base", type=float, default=0.0, show_default=True,
    help="Symmetric fold that commands start from [deg].",
)  # fmt: skip
@level_air_options
@values_option(
    "--airspeeds",
    words="Airspeeds of the authority table [m/s]; eight around --airspeed if left out.",
)
@click.option(
    "--step", type=click.FloatRange(2.0, 60.0), default=15.0, show_default=True,
    help="Step of the map's folds [deg].",
)  # fmt: skip
@click.option("--to-left", type=float, help="Port fold of the command [deg].")
@click.option("--to-right", type=float, help="Starboard fold of the command [deg].")
@click.option(
    "--duration", type=click.FloatRange(0.1, 60.0), default=4.0, show_default=True,
    help="Length of the bank history [s].",
)  # fmt: skip
@study_options
def command(
    file: str,
    overrides: tuple[str, ...],
    base: float,
    airspeed: float | None,
    density: float,
    airspeeds: str | None,
    step: float,
    to_left: float | None,
    to_right: float | None,
    duration: float,
    thrust: float | Literal["trim"] | None,
    rows: int,
    strips: int,
    plot: Path | None,
    full: bool,
    as_json: bool,
) -> None:
    """Roll authority over port and starboard folds, with lift held; bank after a command.

    Rolling moments are positive with the starboard wing going down. The file needs [mass]; the
    bank history needs [actuator]. --to-left and --to-right are the command of the bank history and
    of the tips against the rotors; without them it is the strongest pair of the map.
    """
    checked_angle("base", base, 180.0)
    from vlm.cli.craft import load_biplane
    from vlm.cli.ranges import checked_picture, chosen_target, spaced
    from vlm.lattice.cellule import Grid
    from vlm.show.plots.roll import save_roll_picture
    from vlm.show.tables.roll import roll_table
    from vlm.study.roll.study import RollPlan, roll_study

    checked_picture(plot)
    craft = load_biplane(file, overrides)
    plan = RollPlan(
        air=level_air(craft, airspeed, density),
        base_deg=base,
        step_deg=step,
        airspeeds=spaced("--airspeeds", airspeeds) if airspeeds else (),
        target=chosen_target(base, to_left, to_right),
        duration=duration,
        grid=Grid(rows, strips),
        thrust=thrust,
    )
    with shown_progress() as progress:
        study = roll_study(craft, plan, progress)
    show_study(study, partial(roll_table, full=full), save_roll_picture, plot, as_json=as_json)
