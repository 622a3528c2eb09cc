"""``foldspan motion``: the craft in time while its tips move, or fail, or a gust hits."""

from pathlib import Path
from typing import Any

import click

from vlm.cli.answering import echo_answer, echo_json, note_written
from vlm.cli.checks import level_air
from vlm.cli.hearing import shown_progress
from vlm.cli.options import (
    density_option,
    full_option,
    geometry_options,
    grid_options,
    json_option,
    no_cache_option,
    out_option,
    plot_option,
)
from vlm.cli.parameters import OutputFile
from vlm.errors import InputRefused
from vlm.sides import Side

SIDE = click.Choice([side.value for side in Side])


@click.command("motion")
@geometry_options
@click.option("--scenario", metavar="NAME", help="A scenario of the file's [motion].")
@click.option(
    "--airspeed",
    type=float,
    help="Airspeed at the start [m/s]; if left out 12, or the nearest to it of the file's"
    " [schedule].",
)
@density_option
@click.option("--start", metavar="NAME", help="Configuration at the start; flat if left out.")
@click.option("--to", metavar="NAME", help="Configuration that the tips are commanded to fold to.")
@click.option("--to-left", type=float, help="Fold that the port side is commanded [deg].")
@click.option("--to-right", type=float, help="Fold that the starboard side is commanded [deg].")
@click.option("--at", "command_at", type=float, help="When the tips are commanded [s].")
@click.option("--free-bank", is_flag=True, help="The law does not hold the bank.")
@click.option("--speed-to", type=float, help="Airspeed that the law is commanded to reach [m/s].")
@click.option("--speed-time", type=float, help="Time of that change [s].")
@click.option(
    "--follow", metavar="SPEED:FOLD,...",
    help="Folds against the airspeed flown [m/s:deg], such as 11:15,15:0,20:-60; the word schedule"
    " works them out from the file's [schedule]; or a FILE.csv of schedule --csv.",
)  # fmt: skip
@click.option("--gust", type=click.Choice(["vertical", "side"]), help="Direction of a gust.")
@click.option("--gust-speed", type=float, help="Its highest speed, up or from starboard [m/s].")
@click.option("--gust-gradient", type=float, help="Way flown to its highest speed [m].")
@click.option("--gust-step", is_flag=True, help="A step instead of one minus cosine.")
@click.option("--gust-at", type=float, help="When it starts [s].")
@click.option("--jam", type=SIDE, help="Side whose worm jams.")
@click.option(
    "--jam-at-fold", type=float, help="Fold at which it jams; the start's if left out [deg]."
)
@click.option("--let-go", type=SIDE, help="Side whose tips lose their gear.")
@click.option("--let-go-at", type=float, help="When they do [s].")
@click.option("--voltage", type=float, help="Battery voltage over that of the file [1].")
@click.option("--voltage-at", type=float, help="When it sags [s].")
@click.option("--lost-rotor", metavar="NAME", help="Rotor that gives no thrust any more.")
@click.option("--lost-at", type=float, help="When it is lost [s].")
@click.option("--duration", type=click.FloatRange(0.05, 120.0), help="How long; 4 if left out [s].")
@click.option("--no-law", is_flag=True, help="Leave the file's stabilising law out.")
@click.option("--quasi-steady", is_flag=True, help="Leave lag and apparent mass of the air out.")
@click.option("--no-slipstream", is_flag=True, help="Leave the rotors' slipstream out.")
@click.option("--least-friction", is_flag=True, help="Least expected friction of the worm's mesh.")
@click.option("--no-error", is_flag=True, help="Leave the run on a coarser lattice out.")
@grid_options
@out_option("Dataset of the histories: FILE.nc or FILE.csv.")
@click.option("--scene", type=OutputFile(), help="Page for a browser that plays it: FILE.html.")
@plot_option
@full_option
@json_option
@no_cache_option
def command(file: str, overrides: tuple[str, ...], **given: Any) -> None:
    """The craft in time: six degrees of freedom, tips on hinges, servo, worm, rotors, law.

    It starts in steady, level flight and follows one scenario: of the file's [motion], or of the
    options, which override the scenario's. Wing-borne flight only. The file needs [mass] and
    [actuator] with the hinge's stiffness.
    """
    from vlm.cli.craft import load_biplane
    from vlm.cli.ranges import checked_picture
    from vlm.flight.simulation.building import Modelled
    from vlm.lattice.cellule import Grid
    from vlm.study.motion.scenarios import scenario_of
    from vlm.study.motion.study import MotionPlan, motion_study
    from vlm.study.sweep.dataset import checked_output

    plot: Path | None = given["plot"]
    checked_picture(plot)
    if given["scene"] and given["scene"].suffix != ".html":
        raise InputRefused(f"--scene {given['scene']}; the ending must be .html")
    if given["out"]:
        checked_output(given["out"])
    craft = load_biplane(file, overrides)
    scenario = scenario_of(craft, given["scenario"], _keys(given), OPTIONS)
    level_air(craft, scenario.airspeed_m_s, given["density"])
    plan = MotionPlan(
        scenario=scenario,
        modelled=Modelled(
            grid=Grid(given["rows"], given["strips"]),
            density=given["density"],
            lagged=not given["quasi_steady"],
            apparent=not given["quasi_steady"],
            slipstream=not given["no_slipstream"],
            friction=0 if given["least_friction"] else 1,
        ),
        law=not given["no_law"],
        errors=not given["no_error"],
    )
    with shown_progress() as progress:
        study = motion_study(craft, plan, progress)
    _write(study, given)
    if given["as_json"]:
        echo_json(study.document())
        return
    from vlm.show.tables.motion import motion_table

    echo_answer(motion_table(study, full=given["full"]), study.findings)


KEYS = {
    "airspeed": "airspeed_m_s", "start": "start", "to": "to", "to_left": "to_left_deg",
    "to_right": "to_right_deg", "command_at": "command_at_s", "speed_to": "speed_to_m_s",
    "speed_time": "speed_change_s", "gust": "gust", "gust_speed": "gust_speed_m_s",
    "gust_gradient": "gust_gradient_m", "gust_at": "gust_at_s", "jam": "jam",
    "jam_at_fold": "jam_deg", "let_go": "let_go", "let_go_at": "let_go_at_s",
    "voltage": "battery", "voltage_at": "battery_at_s", "lost_rotor": "lost_rotor",
    "lost_at": "lost_at_s", "duration": "duration_s", "follow": "fold_schedule",
}  # fmt: skip
"""Options, and the keys of a scenario that they override."""
OPTIONS = {
    key: {"command_at": "--at"}.get(name, f"--{name.replace('_', '-')}")
    for name, key in KEYS.items()
} | {"follows_schedule": "--follow schedule", "gust_form": "--gust-step"}
"""Keys of a scenario, and the options that give them."""


def _keys(given: dict[str, Any]) -> dict[str, Any]:
    found = {key: given[name] for name, key in KEYS.items() if given[name] is not None}
    if given["free_bank"]:
        found["holds_bank"] = False
    if given["gust_step"]:
        found["gust_form"] = "step"
    return found


def _write(study: Any, given: dict[str, Any]) -> None:
    if given["plot"]:
        from vlm.show.plots.motion import save_motion_picture

        save_motion_picture(study, given["plot"])
        note_written(given["plot"])
    if given["out"]:
        from vlm.study.motion.dataset import save_motion

        save_motion(study, given["out"])
        note_written(given["out"])
    if given["scene"]:
        from vlm.show.scenes.motion_page import save_motion_page

        save_motion_page(study, given["scene"])
        note_written(given["scene"])
