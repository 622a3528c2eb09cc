"""``foldspan compare``: craft and settings held against each other."""

from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import click

from vlm.cli.answering import report_warnings, show_study
from vlm.cli.checks import checked_angle, chosen_folds, level_air
from vlm.cli.hearing import shown_progress
from vlm.cli.options import (
    chart_options,
    folds_to_compare,
    full_option,
    grid_options,
    json_option,
    legs_option,
    level_air_options,
    plot_option,
    strict_option,
)
from vlm.errors import InputRefused

if TYPE_CHECKING:
    from vlm.description.folds import FoldAngles
    from vlm.description.models import Biplane


@click.command("compare")
@click.argument("files", metavar="FILE...", nargs=-1, required=True)
@click.option(
    "--set", "overrides", multiple=True, metavar="KEY=VALUE",
    help="Override a key of all files, such as arrangement.gap_m=0.5. May be repeated.",
)  # fmt: skip
@click.option(
    "--variant", "variants", multiple=True, metavar="KEY=VALUE[;...]",
    help="Compare the first file with a copy of it that has these keys. May be repeated.",
)  # fmt: skip
@folds_to_compare
@click.option(
    "--configuration", "configurations", multiple=True, metavar="NAME",
    help="A fold setting that every file names. May be repeated.",
)  # fmt: skip
@click.option(
    "--alpha", type=float, default=4.0, show_default=True,
    help="Angle of attack at which lift and induced drag are compared [deg].",
)  # fmt: skip
@level_air_options
@click.option("--no-power", is_flag=True, help="Leave the power curves out (quicker).")
@click.option("--mission", is_flag=True, help="Fly the first file's mission with every craft.")
@legs_option
@grid_options
@full_option
@strict_option
@plot_option
@json_option
@chart_options
def command(
    files: tuple[str, ...],
    overrides: tuple[str, ...],
    variants: tuple[str, ...],
    folds: tuple[str, ...],
    configurations: tuple[str, ...],
    alpha: float,
    airspeed: float | None,
    density: float,
    no_power: bool,
    mission: bool,
    legs_file: str | None,
    rows: int,
    strips: int,
    full: bool,
    strict: bool,
    plot: Path | None,
    as_json: bool,
) -> None:
    """What differs between craft, or between settings of one craft, and what it is worth.

    Every further entry is compared with the first: lift and drag, stability, hinges, roll, power
    and, if asked for, a mission. What both err by alike cancels in a difference, so that its ±
    is smaller than that of the numbers themselves.
    """
    checked_angle("alpha", alpha, 180.0)
    from vlm.cli.craft import load_biplane
    from vlm.cli.ranges import checked_picture, in_order
    from vlm.description.folds import FoldAngles
    from vlm.description.mission_file import load_mission
    from vlm.lattice.cellule import Grid
    from vlm.show.plots.compare import save_compare_picture
    from vlm.show.tables.compare import compare_table
    from vlm.study.compare.numbers import entries
    from vlm.study.compare.study import ComparePlan, compare_study

    checked_picture(plot)
    asked = in_order("--folds", folds)
    crafts = {_stem(file): load_biplane(file, overrides) for file in files}
    if len(crafts) < len(files):
        raise InputRefused("two of the files have the same name; rename one to tell them apart")
    for text in variants:
        crafts[text] = load_biplane(files[0], (*overrides, *text.split(";")))
    legs = load_mission(legs_file).mission if legs_file else next(iter(crafts.values())).mission
    if mission and not legs:
        raise InputRefused(f"{files[0]}: [[mission]] is missing; it, or --legs, names the legs")
    plan = ComparePlan(
        alpha_deg=alpha,
        air=level_air(next(iter(crafts.values())), airspeed, density),
        grid=Grid(rows, strips),
        power=not no_power,
        mission=legs if mission or legs_file else (),
    )

    def settings(craft: "Biplane") -> "dict[str, FoldAngles]":
        named = {one: chosen_folds(craft, None, None, None, one) for one in configurations}
        return named | {f"{fold:g} deg": FoldAngles.symmetric(fold) for fold in asked}

    with shown_progress() as progress:
        comparison = compare_study(entries(crafts, settings), plan, progress)
    show_study(
        comparison, partial(compare_table, full=full), save_compare_picture, plot, as_json=as_json
    )
    report_warnings(list(comparison.findings), strict=strict)


def _stem(file: str) -> str:
    return Path(file).stem
