"""``foldspan lateral``: lateral stability and modes of motion against fold."""

from functools import partial
from pathlib import Path
from typing import Literal

import click

from vlm.cli.answering import show_study
from vlm.cli.checks import level_air
from vlm.cli.hearing import shown_progress
from vlm.cli.options import (
    geometry_options,
    level_air_options,
    study_options,
    values_option,
)


@click.command("lateral")
@geometry_options
@values_option(
    "--folds",
    "--fold",
    "folds",
    words="Symmetric folds [deg]; nine over the file's limits and 0 if left out.",
)
@values_option(
    "--alphas",
    words="Angles of attack of the derivatives [deg]; level flight comes on top.",
    default="0:8:3",
)
@values_option(
    "--shares", words="Folds at which Cl_beta is taken apart [deg]; some of --folds if left out."
)
@level_air_options
@values_option(
    "--airspeeds",
    words="Airspeeds of the modes [m/s]; if left out three around --airspeed, within the"
    " range of the file's [schedule].",
)
@study_options
def command(
    file: str,
    overrides: tuple[str, ...],
    folds: str | None,
    alphas: str,
    shares: str | None,
    airspeed: float | None,
    density: float,
    airspeeds: str | None,
    thrust: float | Literal["trim"] | None,
    rows: int,
    strips: int,
    plot: Path | None,
    full: bool,
    as_json: bool,
) -> None:
    """Derivatives, dihedral effect and its parts, modes of motion against symmetric fold.

    A negative Cl_beta is a stable dihedral effect. The file needs [mass].
    """
    from vlm.cli.craft import load_biplane
    from vlm.cli.ranges import checked_picture, spaced
    from vlm.lattice.cellule import Grid
    from vlm.show.plots.lateral import save_lateral_picture
    from vlm.show.tables.lateral import lateral_table
    from vlm.study.asked import (
        LATERAL_FOLDS,
        default_folds,
        mode_speeds,
        some_of,
    )
    from vlm.study.lateral.study import LateralPlan, lateral_study

    checked_picture(plot)
    craft = load_biplane(file, overrides)
    wanted = (
        spaced("--folds", folds, positive=False) if folds else default_folds(craft, LATERAL_FOLDS)
    )
    parts = spaced("--shares", shares, positive=False) if shares else some_of(wanted)
    air = level_air(craft, airspeed, density)
    around = mode_speeds(craft.schedule, air.airspeed)
    plan = LateralPlan(
        air=air,
        folds_deg=wanted,
        alphas_deg=spaced("--alphas", alphas, positive=False),
        shares_deg=parts,
        airspeeds=spaced("--airspeeds", airspeeds) if airspeeds else around,
        grid=Grid(rows, strips),
        thrust=thrust,
    )
    with shown_progress() as progress:
        study = lateral_study(craft, plan, progress)
    show_study(
        study, partial(lateral_table, full=full), save_lateral_picture, plot, as_json=as_json
    )
