"""``foldspan design``: the best dimensions for a goal, within bounds and constraints."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import click

from vlm.cli.answering import (
    echo_answer,
    echo_json,
    note,
    note_written,
    report_warnings,
    show_shares,
)
from vlm.cli.checks import standing_air
from vlm.cli.hearing import shown_progress
from vlm.cli.options import (
    chart_options,
    full_option,
    geometry_options,
    json_option,
    keep_option,
    legs_option,
    out_option,
    plot_option,
    sensitivity_options,
    strict_option,
    trim_options,
)
from vlm.description.design import GOALS
from vlm.findings import Finding
from vlm.interrupts import interrupt_raised
from vlm.study.asked import DESIGN_FOLDS


@click.command("design")
@geometry_options
@click.option(
    "--key",
    "bounds",
    multiple=True,
    metavar="KEY=FROM:TO",
    help="A key that may change, such as upper.tips.span_m=0.1:0.5. May be repeated; instead of"
    " design.keys of FILE.",
)
@click.option("--goal", type=click.Choice(GOALS), help="What is sought, instead of design.goal.")
@click.option(
    "--airspeed",
    type=float,
    help="Of power, induced drag and rolling moment, instead of design's [m/s].",
)
@click.option("--lift", type=float, help="Of induced drag, instead of design.lift_N [N].")
@click.option("--fold", type=float, help="Fold that is held, instead of design.fold_deg [deg].")
@legs_option
@click.option("--starts", type=click.IntRange(1, 50), default=3, show_default=True, help="Starts.")
@click.option(
    "--most",
    type=click.IntRange(5, 10_000),
    help="Most designs from each start.  [default: 30 for each key]",
)
@click.option(
    "--across", metavar="KEY", help="Key over which --plot draws the goal; the first if left out."
)
@click.option(
    "--points",
    type=click.IntRange(3, 200),
    default=9,
    show_default=True,
    help="Values of that key.",
)
@trim_options(DESIGN_FOLDS)
@keep_option
@out_option("Geometry file of the best design to write.")
@full_option
@strict_option
@plot_option
@sensitivity_options
@json_option
@chart_options
def command(file: str, overrides: tuple[str, ...], as_json: bool, **options: Any) -> None:
    """Search for the best dimensions of a craft.

    Keys of FILE change within bounds until the goal is best: the lowest energy of a mission, the
    lowest power at an airspeed, the lowest induced drag at an airspeed and lift, the highest span
    efficiency of a given span, the highest rolling moment. The constraints are those of [schedule].
    Several starts guard against a local best. Stopped with Ctrl-C, the best so far is printed; with
    --keep or -o the same command goes on where it was.
    """
    from vlm.cli.craft import load_biplane
    from vlm.cli.ranges import checked_picture
    from vlm.disk import write_whole
    from vlm.study.design.report import best_text, design_document
    from vlm.study.design.sensitivity import design_sensitivity

    picture: Path | None = options["plot_sensitivity"]
    checked_picture(options["plot"])
    checked_picture(picture)
    craft = load_biplane(file, overrides)
    plan = _plan(craft, options)
    asked = _shares_asked(craft, options)
    out: Path | None = options["out"]
    store = options["keep"] or (None if out is None else _beside(out))
    beside = None if options["keep"] is not None else store
    with interrupt_raised(), _over_where_none_is_allowed(beside):
        study = _searched(craft, plan, store)
    found = design_sensitivity(study) if asked and not study.stopped else None
    document = design_document(study, found)
    findings = [Finding(**finding) for finding in document["findings"]]
    if out is not None and study.best is not None:
        write_whole(out, best_text(study, out).encode())
        note_written(out)
        if beside is not None and not study.stopped:
            _removed(beside)
    if options["plot"] is not None and document["trade"] is not None:
        from vlm.show.plots.design import save_design_picture

        save_design_picture(document, options["plot"])
        note_written(options["plot"])
    if as_json:
        echo_json(document)
    else:
        from vlm.show.tables.design import design_table

        echo_answer(design_table(document, full=options["full"]), findings)
    show_shares(document["uncertain_inputs"], craft.title, picture, as_json=as_json)
    report_warnings(findings, strict=options["strict"])
    if study.stopped:
        kept = f"; the same command goes on from {store}" if store is not None else ""
        note(f"stopped after {study.solved + study.recalled} designs{kept}")
        raise KeyboardInterrupt


def _shares_asked(craft: Any, options: dict[str, Any]) -> bool:
    """Whether the shares of the uncertain inputs are asked for, which the file must state."""
    from vlm.study.sensitivity import check_uncertainty

    asked = bool(options["sensitivity"]) or options["plot_sensitivity"] is not None
    if asked:
        check_uncertainty(craft)
    return asked


def _beside(out: Path) -> Path:
    """Where finished designs stand until the best one is written."""
    return out.with_name(f".{out.name}.unfinished")


@contextmanager
def _over_where_none_is_allowed(store: Path | None) -> Iterator[None]:
    """Take finished designs away where the search is over: it would refuse another one for ever."""
    from vlm.study.design.study import NoneAllowed

    try:
        yield
    except NoneAllowed:
        if store is not None:
            _removed(store)
        raise


def _removed(store: Path) -> None:
    import shutil

    shutil.rmtree(store, ignore_errors=True)


def _plan(craft: Any, options: dict[str, Any]) -> Any:
    """The search from options, and from [design] where they say nothing."""
    from vlm.description.design import Design
    from vlm.description.mission_file import load_mission
    from vlm.errors import InputRefused, nearest_name
    from vlm.lattice.cellule import Grid
    from vlm.study.design.changes import checked_key
    from vlm.study.design.evaluator import DesignPlan
    from vlm.study.design.goals import GoalPlan

    asked = craft.design or Design()
    legs = craft.mission
    if options["legs_file"] is not None:
        legs = load_mission(options["legs_file"]).mission
    given = [_bounds(text) for text in options["bounds"]]
    origin = "--key" if given else f"{craft.source_name}: design.keys"
    given = given or [(name, *ends) for name, ends in asked.keys.items()]
    if not given:
        raise InputRefused(
            f"{craft.source_name}: nothing may change: give --key KEY=FROM:TO, or design.keys"
        )
    keys = tuple(checked_key(craft, *one, origin=origin) for one in given)
    names = [key.name for key in keys]
    for name in names:
        if names.count(name) > 1:
            raise InputRefused(f"--key {name}: this key is given twice")
    _refuse_misfits(craft, keys)
    across = options["across"]
    if across is not None and across not in names:
        near = nearest_name(across, names)
        raise InputRefused(
            f"--across {across}; it must be one of the keys {', '.join(names)}"
            + (f"; did you mean {near}?" if near else "")
        )
    goal = GoalPlan(
        goal=options["goal"] or asked.goal,
        airspeed=_checked_airspeed(options["airspeed"], asked.airspeed_m_s),
        alpha_deg=asked.alpha_deg,
        lift_N=_checked_lift(options["lift"], asked.lift_N),
        fold_deg=_checked_fold(craft, options["fold"], asked.fold_deg, names),
        legs=tuple(legs),
        fold_count=options["fold_count"],
        air=standing_air(options["altitude"], options["density"]),
        grid=Grid(options["rows"], options["strips"]),
    )
    if goal.goal == "span efficiency":
        _refuse_spans(craft, keys)
    drawn = (across or names[0]) if options["plot"] is not None or across else None
    return DesignPlan(keys, goal, options["starts"], options["most"], drawn, options["points"])


def _bounds(text: str) -> tuple[str, float, float]:
    """Key and bounds of KEY=FROM:TO."""
    from vlm.errors import InputRefused

    name, equals, ends = text.partition("=")
    parts = ends.split(":")
    try:
        low, high = (float(part) for part in parts)
    except ValueError:
        equals = ""
        low = high = 0.0
    if not equals or not name.strip():
        raise InputRefused(f"--key {text}: write KEY=FROM:TO, such as upper.tips.span_m=0.1:0.5")
    return name.strip(), low, high


def _refuse_misfits(craft: Any, keys: Any) -> None:
    """Refuse bounds of a held fold beyond the tips' limits, and keys that change the same span."""
    from vlm.errors import InputRefused
    from vlm.study.design.changes import FOLD, HINGE

    names = [key.name for key in keys]
    for key in keys:
        wing, _, last = key.name.partition(".")
        if last == HINGE:
            for other in (f"{wing}.span_m", f"{wing}.tips.span_m"):
                if other in names:
                    raise InputRefused(f"--key {key.name}: it changes {other}, which is given too")
        if key.name == FOLD:
            low, high = craft.fold_range_deg
            if not low <= key.low < key.high <= high:
                raise InputRefused(
                    f"--key {FOLD}={key.low:g}:{key.high:g}; the limits of the tips allow"
                    f" {low:g} to {high:g}"
                )


def _checked_airspeed(given: float | None, asked: float | None) -> float | None:
    from vlm.errors import InputRefused

    if given is not None and not 0.0 < given < float("inf"):
        raise InputRefused(f"--airspeed = {given:g}; it must be positive")
    return asked if given is None else given


def _checked_lift(given: float | None, asked: float | None) -> float | None:
    from vlm.errors import InputRefused

    if given is not None and not 0.0 < given < float("inf"):
        raise InputRefused(f"--lift = {given:g}; it must be positive")
    return asked if given is None else given


def _refuse_spans(craft: Any, keys: Any) -> None:
    """Refuse a key under which the span efficiency would be taken on another span."""
    from vlm.description.dimensions import wing_dimensions
    from vlm.errors import InputRefused
    from vlm.study.design.changes import FOLD, designed

    for key in keys:
        if key.name == FOLD:
            continue
        spans = []
        for value in (key.low, key.high):
            try:
                made = designed(craft, {key.name: value})
            except InputRefused:
                continue
            spans.append(
                (
                    made.reference.span_m,
                    [wing_dimensions(w).flat_span_m for w in made.wings.values()],
                )
            )
        if any(span != spans[0] for span in spans[1:]):
            raise InputRefused(
                f"--key {key.name}: it changes the span, and the span efficiency is taken on the"
                ' span of each design; ask for --goal "induced drag", which holds lift and'
                " airspeed"
            )


def _checked_fold(
    craft: Any, given: float | None, asked: float | None, names: list[str]
) -> float | None:
    """The held fold, refused beyond the tips' limits or beside a search for it."""
    from vlm.description.folds import FoldAngles
    from vlm.errors import InputRefused
    from vlm.study.design.changes import FOLD

    fold = asked if given is None else given
    if given is not None and FOLD in names:
        raise InputRefused(f"--fold {given:g} can't stand beside --key {FOLD}, which searches it")
    if fold is not None:
        craft.tip_folds(FoldAngles.symmetric(fold))
    return fold


def _searched(craft: Any, plan: Any, store: Path | None) -> Any:
    """Search with its progress on standard error."""
    from vlm.study.design.goals import UNITS
    from vlm.study.design.study import design_study

    with shown_progress("design") as progress:

        def report(stage: str, count: int, best: float) -> None:
            shown = f", best {best:.5g} {UNITS[plan.goal.goal]}" if abs(best) < 1e29 else ""
            words = f"{stage}, {count} designs" if stage == "search" else stage
            progress(f"{words}{shown}", count)

        return design_study(craft, plan, store=store, report=report)
