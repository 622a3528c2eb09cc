"""``foldspan hinge``: what hinge, worm gear, servo and wings must carry."""

from pathlib import Path
from typing import Literal

import click

from vlm.cli.hearing import shown_progress
from vlm.cli.options import (
    air_options,
    chart_options,
    checked_air,
    echo_answer,
    echo_json,
    full_option,
    geometry_options,
    grid_options,
    json_option,
    note_written,
    plot_option,
    thrust_option,
)


@click.command("hinge")
@geometry_options
@click.option(
    "--folds", metavar="START:STOP:COUNT|A,B,C",
    help="Symmetric folds [deg]; seven over the file's limits and 0 if left out.",
)  # fmt: skip
@air_options
@click.option(
    "--airspeeds", metavar="START:STOP:COUNT|A,B,C",
    help="Airspeeds of the moment table [m/s]; three from --airspeed up if left out.",
)  # fmt: skip
@click.option(
    "--load-factors", metavar="START:STOP:COUNT|A,B,C",
    help="Load factors of the moment table; 1 and the file's limit if left out.",
)  # fmt: skip
@thrust_option
@grid_options
@plot_option
@full_option
@json_option
@chart_options
def command(
    file: str,
    overrides: tuple[str, ...],
    folds: str | None,
    airspeed: float,
    density: float,
    airspeeds: str | None,
    load_factors: str | None,
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
    checked_air(airspeed, density)
    from vlm.cli.craft import load_biplane
    from vlm.cli.ranges import checked_picture, spaced
    from vlm.flight.motion.roll_authority import Air
    from vlm.lattice.cellule import Grid
    from vlm.study.asked import HINGE_FOLDS, HINGE_SPEEDS, default_folds, speeds_around
    from vlm.study.hinge_results import HingePlan
    from vlm.study.hinge_study import hinge_study

    checked_picture(plot)
    craft = load_biplane(file, overrides)
    around = speeds_around(airspeed, HINGE_SPEEDS)
    plan = HingePlan(
        air=Air(airspeed, density),
        folds_deg=spaced("--folds", folds, positive=False)
        if folds
        else default_folds(craft, HINGE_FOLDS),
        airspeeds=spaced("--airspeeds", airspeeds) if airspeeds else around,
        load_factors=spaced("--load-factors", load_factors) if load_factors else (),
        grid=Grid(rows, strips),
        thrust=thrust,
    )
    with shown_progress() as progress:
        document = hinge_study(craft, plan, progress).document()
    if plot:
        from vlm.show.plots.hinge import save_hinge_picture

        save_hinge_picture(document, plot)
        note_written(plot)
    if as_json:
        echo_json(document)
        return
    from vlm.findings import Finding
    from vlm.show.tables.hinge import hinge_table

    echo_answer(hinge_table(document, full=full), [Finding(**one) for one in document["findings"]])
