"""``foldspan hinge``: what hinge, worm gear, servo and wings must carry."""

from functools import partial
from pathlib import Path
from typing import Literal

import click

from vlm.cli.answering import show_study
from vlm.cli.checks import checked_gust, level_air
from vlm.cli.hearing import shown_progress
from vlm.cli.options import (
    geometry_options,
    level_air_options,
    study_options,
    values_option,
)


@click.command("hinge")
@geometry_options
@values_option(
    "--folds",
    "--fold",
    "folds",
    words="Symmetric folds [deg]; seven over the file's limits and 0 if left out.",
)
@level_air_options
@values_option(
    "--airspeeds",
    words="Airspeeds of the moment table [m/s]; three from --airspeed to twice it, or to the"
    " fastest of [schedule], if left out.",
)
@values_option(
    "--load-factors", words="Load factors of the moment table; 1 and the file's limit if left out."
)
@click.option(
    "--gust-speed",
    type=float,
    help="Sudden upward gust whose load factor and hinge moments are wanted [m/s].",
)
@study_options
def command(
    file: str,
    overrides: tuple[str, ...],
    folds: str | None,
    airspeed: float | None,
    density: float,
    airspeeds: str | None,
    load_factors: str | None,
    gust_speed: float | None,
    thrust: float | Literal["trim"] | None,
    rows: int,
    strips: int,
    plot: Path | None,
    full: bool,
    as_json: bool,
) -> None:
    """Moments about the hinges, worm and servo, loads along the folded wings.

    Moments are positive where they raise the tip. The file needs [mass] and [actuator].
    """
    from vlm.cli.craft import load_biplane
    from vlm.cli.ranges import checked_picture, spaced
    from vlm.lattice.cellule import Grid
    from vlm.show.plots.hinge import save_hinge_picture
    from vlm.show.tables.hinge import hinge_table
    from vlm.study.asked import HINGE_FOLDS, default_folds, hinge_speeds
    from vlm.study.hinge.results import HingePlan
    from vlm.study.hinge.study import hinge_study

    checked_picture(plot)
    craft = load_biplane(file, overrides)
    air = level_air(craft, airspeed, density)
    around = hinge_speeds(craft.schedule, air.airspeed)
    plan = HingePlan(
        air=air,
        folds_deg=spaced("--folds", folds, positive=False)
        if folds
        else default_folds(craft, HINGE_FOLDS),
        airspeeds=spaced("--airspeeds", airspeeds) if airspeeds else around,
        load_factors=spaced("--load-factors", load_factors) if load_factors else (),
        gust_speed=checked_gust(gust_speed),
        grid=Grid(rows, strips),
        thrust=thrust,
    )
    with shown_progress() as progress:
        study = hinge_study(craft, plan, progress)
    show_study(study, partial(hinge_table, full=full), save_hinge_picture, plot, as_json=as_json)
