"""``foldspan power``: electrical power against airspeed of several fold settings."""

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

import click

from vlm.cli.answering import (
    echo_answer,
    echo_json,
    note,
    note_written,
    report_warnings,
    show_shares,
)
from vlm.cli.checks import chosen_folds, standing_air
from vlm.cli.hearing import shown_progress
from vlm.cli.options import (
    counts_options,
    folds_to_compare,
    full_option,
    geometry_options,
    json_option,
    no_cache_option,
    out_option,
    plot_option,
    sensitivity_options,
    standing_air_options,
    strict_option,
    values_option,
    wake_option,
)
from vlm.cli.parameters import OutputFile
from vlm.errors import InputRefused
from vlm.findings import Finding

if TYPE_CHECKING:
    from vlm.study.power.results import PowerDocument


@click.command("power")
@geometry_options
@click.option(
    "--configuration", "configurations", multiple=True, metavar="NAME",
    help="A fold setting that the file names; may be repeated. All with like folds if left out.",
)  # fmt: skip
@folds_to_compare
@values_option(
    "--airspeeds",
    words="Airspeeds [m/s]; if left out 40 from hover to beyond the fastest, closer where the"
    " curves bend.",
)
@click.option(
    "--over", metavar="KEY=START:STOP:COUNT",
    help="The same for each value of a key of the file, such as arrangement.gap_m=0.3:0.5:3.",
)  # fmt: skip
@click.option(
    "--climb-angle", type=click.FloatRange(-60.0, 80.0), default=0.0, show_default=True,
    help="Angle of the flight path [deg].",
)  # fmt: skip
@standing_air_options(click.FloatRange(-2000.0, 20000.0))
@counts_options((4, 20), (16, 60))
@click.option(
    "--body-angle", "body_angles", multiple=True, type=click.FloatRange(-90.0, 180.0),
    help="Body angle whose airspeeds are asked for [deg]; may be repeated.",
)  # fmt: skip
@wake_option("stream", "craft")
@full_option
@strict_option
@click.option(
    "--plot-parts", type=OutputFile(), metavar="FILE",
    help="Picture of the power by where it goes, stacked against airspeed: .png, .svg or .pdf.",
)  # fmt: skip
@sensitivity_options
@click.option("--no-intervals", is_flag=True, help="Leave out the intervals (quicker).")
@out_option("Dataset to write: FILE.nc, FILE.csv or FILE.parquet.")
@plot_option
@json_option
@no_cache_option
def command(
    file: str,
    overrides: tuple[str, ...],
    configurations: tuple[str, ...],
    folds: tuple[str, ...],
    airspeeds: str | None,
    over: str | None,
    climb_angle: float,
    altitude: float,
    density: float | None,
    rows: int,
    strips: int,
    body_angles: tuple[float, ...],
    wake: Literal["craft", "stream"],
    full: bool,
    strict: bool,
    plot_parts: Path | None,
    sensitivity: bool,
    plot_sensitivity: Path | None,
    no_intervals: bool,
    out: Path | None,
    plot: Path | None,
    as_json: bool,
) -> None:
    """Electrical power against airspeed, from hover to top speed, for several fold settings.

    Each speed is trimmed: body angle, thrust, and the differences of thrust that hold all moments.
    The file needs [mass], [[rotors]] and [propulsion]; intervals come from [uncertainty].
    """
    from vlm.cli.craft import load_biplane
    from vlm.cli.ranges import checked_picture, in_order, spaced
    from vlm.lattice.cellule import Grid
    from vlm.study.power.study import PowerPlan
    from vlm.study.sensitivity import check_uncertainty
    from vlm.study.sweep.dataset import checked_output

    checked_picture(plot)
    checked_picture(plot_parts)
    checked_picture(plot_sensitivity)
    if out is not None:
        checked_output(out)
    craft = load_biplane(file, overrides)
    plan = PowerPlan(
        settings=_settings(craft, configurations, in_order("--folds", folds)),
        speeds=_speeds(spaced("--airspeeds", airspeeds, positive=False)) if airspeeds else (),
        air=standing_air(altitude, density),
        climb_angle_deg=climb_angle,
        grid=Grid(rows, strips),
        intervals=not no_intervals,
        body_angles_deg=body_angles,
        wake=wake,
    )
    asked = sensitivity or plot_sensitivity is not None
    if over is not None:
        pictures = {"--plot": plot, "--plot-parts": plot_parts, "--sensitivity": asked or None}
        _study_over(craft, plan, over, out, pictures, as_json=as_json, strict=strict)
        return
    if asked:
        check_uncertainty(craft)
        if no_intervals:
            raise InputRefused("--no-intervals leaves nothing that --sensitivity could share out")
    document = _document(craft, plan, out, sensitivity=asked)
    findings = [Finding(**finding) for finding in document["findings"]]
    _drawn(document, plot, plot_parts)
    if as_json:
        echo_json(document)
    else:
        from vlm.show.tables.power import power_table

        echo_answer(power_table(document, full=full), findings)
    show_shares(document["uncertain_inputs"], craft.title, plot_sensitivity, as_json=as_json)
    _tell(document)
    report_warnings(findings, strict=strict)


def _study_over(
    craft: Any, plan: Any, text: str, out: Path | None, others: Mapping[str, Any],
    *, as_json: bool, strict: bool,
) -> None:  # fmt: skip
    """The study at every value of a key.

    Raises
    ------
    InputRefused : a key or value that is not allowed, or an option that goes with one study alone
    """
    from vlm.cli.sweep import key_axes
    from vlm.study.power.over import over_dataset, over_document, power_over
    from vlm.study.sweep.dataset import save_dataset

    given = [name for name, value in others.items() if value is not None]
    if given:
        raise InputRefused(f"{given[0]} beside --over; ask for it at one value with --set")
    (axis,) = key_axes(craft, (text,))
    with shown_progress("trim") as progress:
        found = power_over(craft, plan, axis, progress)
    if out is not None:
        save_dataset(over_dataset(found), out)
        note_written(out)
    if as_json:
        echo_json(over_document(found))
    else:
        from vlm.show.tables.power_over import power_over_table

        echo_answer(power_over_table(over_document(found), found.findings), found.findings)
    report_warnings(found.findings, strict=strict)


def _drawn(document: "PowerDocument", plot: Path | None, plot_parts: Path | None) -> None:
    """Write the pictures that were asked for."""
    from vlm.show.plots.power import save_parts_picture, save_power_picture

    if plot is not None:
        save_power_picture(document, plot)
        note_written(plot)
    if plot_parts is not None:
        save_parts_picture(document, plot_parts)
        note_written(plot_parts)


def _settings(
    craft: Any, configurations: tuple[str, ...], folds: tuple[float, ...]
) -> dict[str, Any]:
    """Fold settings by name: those asked for, else the file's with like folds, else flat."""
    from vlm.description.folds import FoldAngles
    from vlm.study.power.study import level_settings

    chosen = {name: chosen_folds(craft, None, None, None, name) for name in configurations}
    chosen |= {f"{fold:g} deg": FoldAngles.symmetric(fold) for fold in folds}
    chosen = chosen or level_settings(craft)
    for setting in chosen.values():
        if craft.tips or setting != FoldAngles():
            craft.tip_folds(setting)
    return chosen


def _speeds(values: tuple[float, ...]) -> tuple[float, ...]:
    if min(values) < 0.0 or max(values) > 150.0:
        raise InputRefused(
            f"--airspeeds from {min(values):g} to {max(values):g}; 0 to 150 m/s is allowed"
        )
    return values


def _document(craft: Any, plan: Any, out: Path | None, *, sensitivity: bool) -> "PowerDocument":
    """The answer, with its progress on standard error; the dataset is written on the way."""
    from vlm.study.power.kept import power_answer
    from vlm.study.power.results import power_dataset, power_document
    from vlm.study.power.sensitivity import power_sensitivity
    from vlm.study.power.study import power_study
    from vlm.study.sweep.dataset import save_dataset

    with shown_progress("trim") as progress:
        if out is None:
            return power_answer(craft, plan, progress, sensitivity=sensitivity)
        study = power_study(craft, plan, progress)
    save_dataset(power_dataset(study), out)
    note_written(out)
    return power_document(study, power_sensitivity(study) if sensitivity else None)


def _tell(document: "PowerDocument") -> None:
    for name, one in document["configurations"].items():
        missing = sum(trims == 0 for trims in one["trims"])
        if missing:
            note(f"{name}: no trim at {missing} of {len(one['trims'])} speeds")
