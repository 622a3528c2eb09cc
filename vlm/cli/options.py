"""Options that several commands share."""

from collections.abc import Callable
from typing import Any

import click

from vlm.cli.parameters import OutputFile, OutputFolder, ThrustWord
from vlm.cli.strict import remember_strict
from vlm.constants import DEFAULT_AIRSPEED, SEA_LEVEL_DENSITY

Decorator = Callable[[Callable[..., Any]], Callable[..., Any]]

STRICT = "End with status 3 if there is any warning about the input or the result."


def together(*options: Decorator) -> Decorator:
    """Several options as one, in the order in which ``--help`` lists them."""

    def decorated(function: Callable[..., Any]) -> Callable[..., Any]:
        for option in reversed(options):
            function = option(function)
        return function

    return decorated


def geometry_options(function: Callable[..., Any]) -> Callable[..., Any]:
    """FILE, ``--set`` and ``--strict``."""
    set_option = click.option(
        "--set", "overrides", multiple=True, metavar="KEY=VALUE",
        help="Override a key of the file, such as arrangement.gap_m=0.5. May be repeated.",
    )  # fmt: skip
    strict = click.option(
        "--strict", is_flag=True, expose_value=False, callback=remember_strict, help=STRICT
    )
    known = [parameter.name for parameter in getattr(function, "__click_params__", ())]
    file = click.argument("file", metavar="FILE")
    return together(file, *(() if "strict" in known else (strict,)), set_option)(function)


def values_option(*names: str, words: str, **more: Any) -> Decorator:
    """Values as START:STOP:COUNT or listed."""
    return click.option(
        *names, metavar="START:STOP:COUNT|A,B,C", help=words, show_default="default" in more, **more
    )


def counts_options(
    rows: tuple[int, int], strips: tuple[int, int], words: tuple[str, str] = ("", "")
) -> Decorator:
    """``--rows`` and ``--strips``: the default and the most of each."""
    return together(
        click.option(
            "--rows", type=click.IntRange(1, rows[1]), default=rows[0], show_default=True,
            help=words[0] or "Chordwise panel rows.",
        ),
        click.option(
            "--strips", type=click.IntRange(4, strips[1]), default=strips[0], show_default=True,
            help=words[1] or "Spanwise strips over each half of the longest flat span.",
        ),
    )  # fmt: skip


grid_options = counts_options((8, 100), (20, 400))
alpha_option = click.option(
    "--alpha", type=float, default=4.0, show_default=True, help="Angle of attack, nose up [deg]."
)
beta_option = click.option(
    "--beta", type=float, default=0.0, help="Sideslip, wind from starboard [deg]."
)
fold_options = together(
    click.option("--fold", type=float, help="Fold of both sides, positive raises [deg]."),
    click.option("--fold-left", type=float, help="Fold of the port side [deg]."),
    click.option("--fold-right", type=float, help="Fold of the starboard side [deg]."),
    click.option("--configuration", metavar="NAME", help="A fold setting that the file names."),
)
density_option = click.option(
    "--density", type=float, default=SEA_LEVEL_DENSITY, show_default=True,
    help="Air density [kg/m^3].",
)  # fmt: skip
air_options = together(
    click.option(
        "--airspeed",
        type=float,
        default=DEFAULT_AIRSPEED,
        show_default=True,
        help="Airspeed [m/s].",
    ),
    density_option,
)
"""Of loads at an angle of attack; :func:`vlm.cli.checks.checked_air` checks them."""
level_air_options = together(
    click.option(
        "--airspeed",
        type=float,
        help=f"Airspeed [m/s]; if left out {DEFAULT_AIRSPEED:g}, or the nearest to it of the file's"
        " [schedule].",
    ),
    density_option,
)
"""Of level flight; :func:`vlm.cli.checks.level_air` reads them."""
thrust_option = click.option(
    "--thrust", type=ThrustWord(), metavar="N|trim",
    help="Thrust of all rotors, shared alike, or trim for that of the full trim: their"
    " slipstream then blows over the wings. No slipstream if left out.",
)  # fmt: skip
json_option = click.option(
    "--json", "as_json", is_flag=True, help="Print one JSON document and nothing else."
)
full_option = click.option("--full", is_flag=True, help="Print all that was worked out.")
strict_option = click.option("--strict", is_flag=True, callback=remember_strict, help=STRICT)
plot_option = click.option(
    "--plot", type=OutputFile(), help="Picture to write: FILE.png, FILE.svg or FILE.pdf."
)
keep_option = click.option(
    "--keep", type=OutputFolder(),
    help="Folder that keeps what is finished; the same command then goes on from there.",
)  # fmt: skip
legs_option = click.option(
    "--legs", "legs_file", metavar="MISSION",
    help="Read the legs from this file, or from one named in geometries/missions/, instead.",
)  # fmt: skip
sensitivity_options = together(
    click.option(
        "--sensitivity", is_flag=True,
        help="Print the share of each uncertain input, of [uncertainty], in every ±.",
    ),
    click.option(
        "--plot-sensitivity", type=OutputFile(), metavar="FILE",
        help="Picture of the shares of the uncertain inputs: .png, .svg or .pdf.",
    ),
)  # fmt: skip


def out_option(words: str, *, required: bool = False) -> Decorator:
    """``-o`` and ``--out``, with what is written there."""
    return click.option("-o", "--out", type=OutputFile(), required=required, help=words)


workers_option = click.option(
    "--workers", type=click.IntRange(1, 256), default=1, show_default=True,
    help="Local processes that share the work.",
)  # fmt: skip
"""``--workers``."""


def standing_air_options(kind: click.FloatRange | type[float] = float) -> Decorator:
    """``--altitude`` and ``--density``, for :func:`vlm.cli.checks.standing_air`."""
    return together(
        click.option(
            "--altitude", type=kind, default=0.0, show_default=True,
            help="Altitude in the standard atmosphere [m].",
        ),
        click.option(
            "--density", type=float, help="Air density, instead of the altitude's [kg/m^3]."
        ),
    )  # fmt: skip


def trim_options(fold_count: int) -> Decorator:
    """``--fold-count``, ``--rows``, ``--strips`` and the air of a table of trims.

    ``fold_count`` is how many folds it has where nothing is said.
    """
    count = click.option(
        "--fold-count", type=click.IntRange(3, 60), default=fold_count, show_default=True,
        help="Folds in the table of trims, besides the flat and the named ones.",
    )  # fmt: skip
    return together(count, counts_options((4, 40), (16, 100)), standing_air_options())


def _nothing_kept(context: click.Context, _option: click.Parameter, wanted: bool) -> None:
    if context.resilient_parsing:
        return
    from vlm.chart.kept_arrays import nothing_kept, users_cache

    if wanted:
        context.with_resource(nothing_kept())
    users_cache()  # what the environment asks for is refused now, or by every case


folds_to_compare = values_option(
    "--folds", "--fold", "folds", multiple=True,
    words="Symmetric folds [deg]. May be repeated.",
)  # fmt: skip
"""Of settings that stand side by side; :func:`vlm.cli.ranges.in_order` reads it."""

no_cache_option = click.option(
    "--no-cache", is_flag=True, expose_value=False, callback=_nothing_kept,
    help="Neither take answers and solved settings from the user's folder of caches nor keep any"
    " there.",
)  # fmt: skip


def _every_fold_solved(context: click.Context, _option: click.Parameter, wanted: bool) -> None:
    if wanted and not context.resilient_parsing:
        from vlm.loads.fold_engine import every_fold_solved

        context.with_resource(every_fold_solved())


chart_options = together(
    no_cache_option,
    click.option(
        "--exact", is_flag=True, expose_value=False, callback=_every_fold_solved,
        help="Solve every fold; otherwise many are read off polynomials.",
    ),
)  # fmt: skip


def wake_option(*kinds: str) -> Decorator:
    """``--wake``; each kind must be one of those that the help names."""
    words = "The wake along the stream of each state, or along the craft's x axis."
    if "relaxed" in kinds:
        words = (
            "The wake along the stream of each state, along the craft's x axis, or moved with the"
            " flow until the loads settle (slow; no derivatives with fold)."
        )
    return click.option(
        "--wake", type=click.Choice(kinds), default="stream", show_default=True, help=words
    )


any_wake_option = wake_option("stream", "craft", "relaxed")
study_options = together(
    thrust_option, grid_options, plot_option, full_option, json_option, chart_options
)
