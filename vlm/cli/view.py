"""``foldspan view``: a craft at one setting, as a picture, a VTK file or a page."""

from pathlib import Path

import click

from vlm.cli.answering import note_written, print_warnings
from vlm.cli.checks import checked_air, checked_angle, chosen_folds
from vlm.cli.options import (
    air_options,
    alpha_option,
    beta_option,
    fold_options,
    geometry_options,
    grid_options,
    no_cache_option,
    out_option,
)


@click.command("view")
@geometry_options
@out_option(
    "File to write: picture (.png, .svg), page for a browser (.html), VTK PolyData (.vtp), or"
    " triangles (.stl).",
    required=True,
)
@alpha_option
@beta_option
@fold_options
@air_options
@click.option(
    "--from",
    "direction",
    default="three-quarter",
    show_default=True,
    help="Direction of a picture: front, rear, side, top or three-quarter.",
)
@click.option(
    "--colour",
    type=click.Choice(["pressure", "load"]),
    default="pressure",
    show_default=True,
    help="What colours the panels: pressure difference, or load per metre of each strip.",
)
@click.option("--no-numbers", is_flag=True, help="Leave the key numbers out of a picture.")
@grid_options
@no_cache_option
def command(
    file: str,
    overrides: tuple[str, ...],
    out: Path,
    alpha: float,
    beta: float,
    fold: float | None,
    fold_left: float | None,
    fold_right: float | None,
    configuration: str | None,
    airspeed: float,
    density: float,
    direction: str,
    colour: str,
    no_numbers: bool,
    rows: int,
    strips: int,
) -> None:
    """The craft with its loads: a still picture, a VTK file, or a page turned by drag.

    The .vtp file holds the panels with pressure difference [Pa] and strip load [N/m] as cell
    data. The .stl file holds the surfaces alone, without thickness, in metres. The .html page opens
    offline. All but pages need the extra 'view'.
    """
    checked_air(airspeed, density)
    checked_angle("alpha", alpha, 180.0)
    checked_angle("beta", beta, 90.0)
    from vlm.show.scenes.scene_files import checked_file, save_scene

    checked_file(out)
    from vlm.cli.craft import load_biplane
    from vlm.lattice.cellule import Grid
    from vlm.show.scenes.pictures import checked_direction
    from vlm.study.point.session import Session, Setting
    from vlm.study.point.validity import state_warnings

    checked_direction(direction)
    craft = load_biplane(file, overrides)
    folds = chosen_folds(craft, fold, fold_left, fold_right, configuration)
    setting = Setting(folds.left_deg, folds.right_deg, alpha, beta, airspeed, density)
    scene = Session(craft, Grid(rows, strips)).scene_with_errors(setting)
    print_warnings(state_warnings(setting.flight_state))
    save_scene(scene, out, direction, colour, numbers=not no_numbers)
    note_written(out)
