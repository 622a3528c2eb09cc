"""Options that several commands share, and the way from them to a craft and a state."""

import json
import os
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from textwrap import fill
from typing import TYPE_CHECKING, Any

import click
from click.core import ParameterSource

from vlm.cli.strict import (
    not_yet_reported,
    refuse_warnings,
    remember_strict,
    with_input_findings,
)
from vlm.cli.text import shown_text
from vlm.constants import SEA_LEVEL_DENSITY
from vlm.disk import announced_folder, announced_output, input_file
from vlm.errors import InputRefused
from vlm.findings import Finding

Decorated = Callable[..., Any]
# Beyond any flight; warnings are told long before.
LEAST_AIR, GREATEST_AIR = 1e-6, 1e4
GREATEST_RATE = 100.0

ALTITUDE = "Altitude in the standard atmosphere [m]."
PICTURE = "Picture to write: FILE.png, FILE.svg or FILE.pdf."
ROWS = "Chordwise panel rows."
STRIPS = "Spanwise strips over each half of the longest flat span."
STRICT = "End with status 3 if there is any warning about the input or the result."
WIDTH = 80
"""Columns of a terminal that every answer fits."""
BESIDES = "Folds in the table of trims, besides the flat and the named ones."
"""Words of options that stand in many commands."""
_WRITTEN = "foldspan.written"


class OutputFile(click.Path):
    """A file to write: refused before any work where it cannot be, see :mod:`vlm.disk`."""

    def __init__(self) -> None:
        super().__init__(path_type=Path, dir_okay=False)

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Path:
        """The path that a word of the command stands for."""
        path = Path(os.fsdecode(super().convert(value, param, ctx)))
        if ctx is not None and ctx.resilient_parsing:
            return path
        return announced_output(path, max(param.opts, key=len) if param else "output")


class InputFile(click.Path):
    """A file to read, that no output of the command may replace."""

    def __init__(self) -> None:
        super().__init__(path_type=Path, dir_okay=False, exists=True)

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Path:
        """The path that a word of the command stands for."""
        path = Path(os.fsdecode(super().convert(value, param, ctx)))
        if ctx is None or not ctx.resilient_parsing:
            input_file(path).close()
        return path


def found_log(path: Path) -> Path:
    """A flight log itself, or the shipped one of that name."""
    from vlm.description.files import shipped_folders

    if path.exists() or path.name != str(path):
        return path
    shipped = (folder / "logs" / path.name for folder in shipped_folders())
    return next((log for log in shipped if log.is_file()), path)


class LogFile(InputFile):
    """A flight log: a path, or the name of a shipped one."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Path:
        """The path that a word of the command stands for."""
        return super().convert(found_log(Path(os.fsdecode(value))), param, ctx)


class OutputFolder(click.Path):
    """A folder to write in: refused before any work where that cannot be."""

    def __init__(self) -> None:
        super().__init__(path_type=Path, file_okay=False)

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Path:
        """The path that a word of the command stands for."""
        path = Path(os.fsdecode(super().convert(value, param, ctx)))
        if ctx is not None and ctx.resilient_parsing:
            return path
        return announced_folder(path, max(param.opts, key=len) if param else "output")


def geometry_options(function: Decorated) -> Decorated:
    """FILE, ``--set`` and ``--strict``."""
    function = click.option(
        "--set",
        "overrides",
        multiple=True,
        metavar="KEY=VALUE",
        help="Override a key of the file, such as arrangement.gap_m=0.5. May be repeated.",
    )(function)
    known = [parameter.name for parameter in getattr(function, "__click_params__", ())]
    if "strict" not in known:
        function = click.option(
            "--strict", is_flag=True, expose_value=False, callback=remember_strict, help=STRICT
        )(function)
    return click.argument("file", metavar="FILE")(function)


def grid_options(function: Decorated) -> Decorated:
    """``--rows`` and ``--strips``."""
    function = click.option(
        "--strips",
        type=click.IntRange(4, 400),
        default=20,
        show_default=True,
        help=STRIPS,
    )(function)
    return click.option(
        "--rows",
        type=click.IntRange(1, 100),
        default=8,
        show_default=True,
        help=ROWS,
    )(function)


def fold_options(function: Decorated) -> Decorated:
    """``--fold``, ``--fold-left`` with ``--fold-right``, or ``--configuration``."""
    function = click.option(
        "--configuration", metavar="NAME", help="A fold setting that the file names."
    )(function)
    function = click.option("--fold-right", type=float, help="Fold of the starboard side [deg].")(
        function
    )
    function = click.option("--fold-left", type=float, help="Fold of the port side [deg].")(
        function
    )
    return click.option("--fold", type=float, help="Fold of both sides, positive raises [deg].")(
        function
    )


def air_options(function: Decorated) -> Decorated:
    """``--airspeed`` and ``--density``."""
    function = click.option(
        "--density",
        type=float,
        default=SEA_LEVEL_DENSITY,
        show_default=True,
        help="Air density [kg/m^3].",
    )(function)
    return click.option(
        "--airspeed", type=float, default=12.0, show_default=True, help="Airspeed [m/s]."
    )(function)


# Only newer versions of click take the type of a value.
if TYPE_CHECKING:
    Words = click.ParamType[Any]
else:
    Words = click.ParamType


class ThrustWord(Words):
    """A thrust in newtons, or the word trim."""

    name = "N|trim"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """The number, or the word."""
        if value == "trim":
            return value
        try:
            number = float(value)
        except ValueError:
            raise InputRefused(
                f"--thrust {value}; write the thrust of all rotors in newtons, or the word trim"
            ) from None
        if not 0.0 <= number < float("inf"):
            raise InputRefused(f"--thrust {value}; 0 N or more is allowed, or the word trim")
        return number


def thrust_option(function: Decorated) -> Decorated:
    """``--thrust``."""
    return click.option(
        "--thrust",
        type=ThrustWord(),
        metavar="N|trim",
        help="Thrust of all rotors, shared alike, or trim for that of the full trim: their"
        " slipstream then blows over the wings. No slipstream if left out.",
    )(function)


def airspeed_is_given(thrust: float | str | None) -> bool:
    """Whether ``--airspeed`` stands in the command, as a slipstream needs it.

    Raises
    ------
    InputRefused : a thrust without it
    """
    source = click.get_current_context().get_parameter_source("airspeed")
    given = source == ParameterSource.COMMANDLINE
    if thrust is not None and not given:
        raise InputRefused("--airspeed is missing; --thrust needs it, as a slipstream hangs on it")
    return given


def json_option(function: Decorated) -> Decorated:
    """``--json``."""
    return click.option(
        "--json", "as_json", is_flag=True, help="Print one JSON document and nothing else."
    )(function)


def out_option(words: str, *, required: bool = False) -> Callable[[Decorated], Decorated]:
    """``-o`` and ``--out``, with what is written there."""
    return click.option(
        "-o",
        "--out",
        type=OutputFile(),
        required=required,
        help=words,
    )


def plot_option(function: Decorated) -> Decorated:
    """``--plot``."""
    return click.option("--plot", type=OutputFile(), help=PICTURE)(function)


def sensitivity_options(function: Decorated) -> Decorated:
    """``--sensitivity`` and ``--plot-sensitivity``."""
    function = click.option(
        "--plot-sensitivity",
        type=OutputFile(),
        metavar="FILE",
        help="Picture of the shares of the uncertain inputs: .png, .svg or .pdf.",
    )(function)
    return click.option(
        "--sensitivity",
        is_flag=True,
        help="Print the share of each uncertain input, of [uncertainty], in every ±.",
    )(function)


def show_shares(document: Any, title: str, plot: Path | None, *, as_json: bool) -> None:
    """Table, and picture where one is asked for, of what the uncertain inputs bring about.

    Parameters
    ----------
    document : what stands under ``uncertain_inputs``; None where it was not asked for
    """
    if document is None:
        return
    if plot is not None:
        from vlm.show.plots.sensitivity import save_sensitivity_picture

        save_sensitivity_picture(document, title, plot)
        note_written(plot)
    if not as_json:
        from vlm.show.tables.sensitivity import sensitivity_table

        click.echo(f"\n{sensitivity_table(document)}")


def keep_option(function: Decorated) -> Decorated:
    """``--keep``."""
    return click.option(
        "--keep",
        type=OutputFolder(),
        help="Folder that keeps what is finished; the same command then goes on from there.",
    )(function)


def legs_option(function: Decorated) -> Decorated:
    """``--legs``."""
    return click.option(
        "--legs",
        "legs_file",
        metavar="MISSION",
        help="Read the legs from this file, or from one named in geometries/missions/, instead.",
    )(function)


def trim_options(fold_count: int, words: str) -> Callable[[Decorated], Decorated]:
    """``--fold-count``, ``--rows``, ``--strips`` and ``--altitude`` of a table of trims.

    ``fold_count`` is how many folds it has where nothing is said, ``words`` what they are.
    """

    def decorated(function: Decorated) -> Decorated:
        function = click.option(
            "--altitude", type=float, default=0.0, show_default=True, help=ALTITUDE
        )(function)
        function = click.option(
            "--strips", type=click.IntRange(4, 100), default=16, show_default=True, help=STRIPS
        )(function)
        function = click.option(
            "--rows", type=click.IntRange(1, 40), default=4, show_default=True, help=ROWS
        )(function)
        return click.option(
            "--fold-count",
            type=click.IntRange(3, 60),
            default=fold_count,
            show_default=True,
            help=words,
        )(function)

    return decorated


def _nothing_kept(context: click.Context, _option: click.Parameter, wanted: bool) -> None:
    if context.resilient_parsing:
        return
    from vlm.chart.kept_arrays import nothing_kept, users_cache

    if wanted:
        context.with_resource(nothing_kept())
    users_cache()  # what the environment asks for is refused now, or by every case


def no_cache_option(function: Decorated) -> Decorated:
    """``--no-cache``."""
    return click.option(
        "--no-cache", is_flag=True, expose_value=False, callback=_nothing_kept,
        help="Neither take solved settings from the user's folder of caches nor keep them there.",
    )(function)  # fmt: skip


def _every_fold_solved(context: click.Context, _option: click.Parameter, wanted: bool) -> None:
    if wanted and not context.resilient_parsing:
        from vlm.loads.fold_engine import every_fold_solved

        context.with_resource(every_fold_solved())


def chart_options(function: Decorated) -> Decorated:
    """``--exact`` and ``--no-cache``."""
    function = click.option(
        "--exact", is_flag=True, expose_value=False, callback=_every_fold_solved,
        help="Solve every fold; otherwise many are read off polynomials.",
    )(function)  # fmt: skip
    return no_cache_option(function)


def wake_option(function: Decorated) -> Decorated:
    """``--wake``."""
    return click.option(
        "--wake",
        type=click.Choice(["stream", "craft"]),
        default="stream",
        show_default=True,
        help="The wake along the stream of each state, or along the craft's x axis.",
    )(function)


def any_wake_option(function: Decorated) -> Decorated:
    """``--wake`` where every state may be solved by itself."""
    return click.option(
        "--wake",
        type=click.Choice(["stream", "craft", "relaxed"]),
        default="stream",
        show_default=True,
        help=(
            "The wake along the stream of each state, along the craft's x axis, or moved with the"
            " flow until the loads settle (slow; no derivatives with fold)."
        ),
    )(function)


def chosen_folds(
    craft: Any,
    fold: float | None,
    fold_left: float | None,
    fold_right: float | None,
    configuration: str | None,
) -> Any:
    """Fold angles from the options; flat if none is given.

    Raises
    ------
    InputRefused : options that exclude each other, or an unknown configuration
    """
    from vlm.description.folds import FoldAngles
    from vlm.errors import nearest_name

    sides = fold_left is not None or fold_right is not None
    if sum((fold is not None, sides, configuration is not None)) > 1:
        raise InputRefused("give one of --fold, --fold-left with --fold-right, and --configuration")
    if configuration is not None:
        if configuration in craft.configurations:
            return craft.configurations[configuration].folds
        near = nearest_name(configuration, craft.configurations)
        known = ", ".join(craft.configurations) or "none"
        hint = f"; did you mean {near}?" if near else f"; the file names {known}"
        raise InputRefused(f"--configuration {configuration} is not in {craft.source_name}{hint}")
    if sides:
        return FoldAngles(fold_left or 0.0, fold_right or 0.0)
    return FoldAngles.symmetric(fold or 0.0)


def checked_air(airspeed: float, density: float) -> None:
    """Refuse air that is no air.

    Raises
    ------
    InputRefused : not finite, not positive, or so far from any air that numbers overflow
    """
    for name, value in (("--airspeed", airspeed), ("--density", density)):
        if not 0.0 < value < float("inf"):
            raise InputRefused(f"{name} = {value:g}; it must be positive")
        if not LEAST_AIR <= value <= GREATEST_AIR:
            raise InputRefused(
                f"{name} = {value:g}; it must lie between {LEAST_AIR:g} and {GREATEST_AIR:g}"
            )


def checked_rates(**values: float) -> None:
    """Refuse reduced rates that are not finite, or so high that numbers overflow.

    Raises
    ------
    InputRefused : names the option
    """
    for name, value in values.items():
        option = f"--{name.replace('_', '-')}"
        if not abs(value) < float("inf"):
            raise InputRefused(f"{option} = {value:g}; it must be a number")
        if abs(value) > GREATEST_RATE:
            raise InputRefused(
                f"{option} = {value:g}; a rate between -{GREATEST_RATE:g} and {GREATEST_RATE:g}"
                " is allowed"
            )


def checked_angle(name: str, value: float, limit: float) -> None:
    """Refuse an angle beyond ``limit`` degrees either way.

    Raises
    ------
    InputRefused : names the option and the limit
    """
    if not abs(value) <= limit:
        raise InputRefused(
            f"--{name} = {value:g}; an angle between -{limit:g} and {limit:g} degrees is allowed"
        )


def echo_json(document: Any) -> None:
    """Print one JSON document."""
    click.echo(json.dumps(with_input_findings(document), indent=1, allow_nan=False))


def note(message: str) -> None:
    """Progress and warnings, on standard error; names that are no text by their bytes."""
    click.echo(shown_text(message), err=True)


def note_written(*paths: Path) -> None:
    """Say at the command's end, on standard error, which files it wrote."""
    line = f"wrote {' and '.join(str(path) for path in paths)}"
    context = click.get_current_context(silent=True)
    if context is None:
        note(line)
        return
    lines: list[str] = context.meta.setdefault(_WRITTEN, [])
    if not lines:
        context.call_on_close(lambda: note("\n".join(lines)))
    lines.append(line)


def echo_answer(text: str, findings: Sequence[Finding]) -> None:
    """Print a command's text, which holds the warnings about the result itself.

    Where standard error is no terminal, a log or a pipe, it gets them as well, one line each.
    """
    click.echo(text)
    if sys.stderr.isatty():
        not_yet_reported(findings)  # for --strict, and so that they are not said again
    else:
        print_warnings(findings)


def tqdm_note(message: str) -> None:
    """As :func:`note`, while a progress bar stands on standard error."""
    from tqdm import tqdm

    tqdm.write(shown_text(message), file=sys.stderr)


def full_option(function: Decorated) -> Decorated:
    """``--full``."""
    return click.option("--full", is_flag=True, help="Print all that was worked out.")(function)


def strict_option(function: Decorated) -> Decorated:
    """``--strict``."""
    return click.option("--strict", is_flag=True, callback=remember_strict, help=STRICT)(function)


def print_warnings(findings: Sequence[Finding]) -> None:
    """Doubts on standard error: one line each, on a terminal in lines of a page's width."""
    for finding in not_yet_reported(findings):
        said = f"warning: {finding.sentence()}"
        if sys.stderr.isatty():
            said = fill(said, WIDTH, subsequent_indent="  ", break_long_words=False)
        note(said)


def report_warnings(findings: Sequence[Finding], *, strict: bool) -> None:
    """Doubts on standard error, one line each; with ``strict`` they end the command.

    Raises
    ------
    ComputationFailed : there are warnings, in the input too, and ``strict``
    """
    print_warnings(findings)
    if strict:
        refuse_warnings(click.get_current_context())
