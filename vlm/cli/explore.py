"""``foldspan explore``: a window with the craft, sliders for folds, angles and airspeed."""

import shlex

import click

from vlm.cli.checks import checked_air, checked_angle, chosen_folds
from vlm.cli.options import (
    air_options,
    alpha_option,
    beta_option,
    fold_options,
    geometry_options,
    grid_options,
    no_cache_option,
)


@click.command("explore")
@geometry_options
@alpha_option
@beta_option
@fold_options
@air_options
@grid_options
@no_cache_option
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
    rows: int,
    strips: int,
) -> None:
    """A window with the craft and its loads, and sliders for folds, angles and airspeed.

    \b
    Keys: l  lock the tips together       n  next named configuration
          x  swap port and starboard      d  next direction of view
          c  next colouring               k  keep a picture in this folder
          t  print the command that reproduces the setting
          q  quit

    Needs a screen and the extra 'view'. A coarser lattice (--rows 4 --strips 12) follows faster.
    """
    checked_air(airspeed, density)
    checked_angle("alpha", alpha, 180.0)
    checked_angle("beta", beta, 90.0)
    checked_screen()
    from vlm.cli.craft import load_biplane
    from vlm.lattice.cellule import Grid
    from vlm.show.scenes.explorer import Explorer
    from vlm.study.point.session import Session, Setting

    craft = load_biplane(file, overrides)
    folds = chosen_folds(craft, fold, fold_left, fold_right, configuration)
    setting = Setting(folds.left_deg, folds.right_deg, alpha, beta, airspeed, density)
    # Folds are read off polynomials: a step of a slider then costs next to nothing.
    session = Session(craft, Grid(rows, strips), "all folds" if craft.tips else "none")
    words = [shlex.quote(file), *(f"--set {shlex.quote(change)}" for change in overrides)]
    Explorer(session, setting, file=" ".join(words), tell=click.echo).show()


def checked_screen() -> None:
    """Refuse to open a window where there is no screen.

    Raises
    ------
    InputRefused : no display is set
    """
    import os
    import sys

    from vlm.errors import InputRefused

    if sys.platform.startswith("linux") and not (
        os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY")
    ):
        raise InputRefused(
            "explore needs a screen, and none is set (DISPLAY); foldspan view writes pictures and"
            " pages without one"
        )
