"""The question and the answer: a verdict, what is not known, one picture, four figures."""

from textwrap import fill
from typing import Any

import numpy as np

from vlm.plain import joined
from vlm.show.page import escaped
from vlm.show.plots import power as power_plots
from vlm.show.plots.sweep import curve_axes
from vlm.show.report.fitting import LEAST_LETTERS, WIDTH
from vlm.show.report.flying import power_command
from vlm.show.report.parts import Section, figure_block, fold_out, in_degrees, panels_of
from vlm.show.report.sweep import sweep_command, sweep_sentences
from vlm.show.report.verdict import Verdict, condensed, open_questions, verdicts
from vlm.show.tables.power_best import special_value, symmetric
from vlm.show.text.layout import number, with_error
from vlm.study.point.rotors_across import ALONE
from vlm.study.power.best import best_setting
from vlm.study.report.data import ReportData
from vlm.study.sweep.naming import is_alone

QUESTION = (
    "What does folding the tips do for {title}, how should they stand, and where does it end?"
)
END_WIDTH = 18
"""Letters in a line of what ends the fastest setting's curve."""
QUESTION_WITHOUT_TIPS = "How do the wings of {title} lift and drag?"
MOST_VERDICTS = 5
"""Sentences of the first screen; further ones are folded away."""
PICTURE = (WIDTH, 4.3)


def section(data: ReportData) -> Section:
    """The answer; each sentence links to where its numbers stand."""
    found = condensed([*verdicts(data), *_sweep(data), *_map(data)], MOST_VERDICTS)
    found = found or [Verdict(_plain(data), "", "sweep")]
    open_ = open_questions(data)
    title = data.craft.title.partition(",")[0]
    question = QUESTION if data.craft.tips else QUESTION_WITHOUT_TIPS
    words = [f'<p class="question">{escaped(question.format(title=title))}</p>']
    words += [_linked(one.text, one.section) for one in found[:MOST_VERDICTS]]
    if open_:
        items = "".join(f"<li>{_words(*sentence)}</li>" for sentence in open_)
        words.append(f'<div class="unknown"><h3>Not known</h3><ul>{items}</ul></div>')
    words.append(_further(found))
    body = f'<div class="first"><div>{"".join(words)}</div>{_picture(data)}</div>{_key(data)}'
    return Section("answer", "Question and answer", body)


def _further(found: list[Verdict]) -> str:
    """What else the studies found, folded away."""
    rest = [(one.further, one.section) for one in found[:MOST_VERDICTS] if one.further]
    rest += [(f"{one.text} {one.further}".rstrip(), one.section) for one in found[MOST_VERDICTS:]]
    return fold_out("What else was found", *(_linked(*one) for one in rest))


def _words(text: str, ident: str) -> str:
    return f'{escaped(in_degrees(text))} <a href="#{ident}">why</a>'


def _linked(text: str, ident: str) -> str:
    return f"<p>{_words(text, ident)}</p>"


def _picture(data: ReportData) -> str:
    """Power against airspeed over the schedule's fold, or span efficiency and dihedral effect."""
    document = data.studies.get("power")
    if document is not None:
        schedule = data.studies.get("schedule")
        flown = schedule["flown"] if schedule is not None else None
        return _power_picture(data, document | {"configurations": symmetric(document)}, flown)
    return "" if data.sweep is None else _sweep_picture(data)


def _power_picture(data: ReportData, shown: Any, flown: Any) -> str:
    def power_over_fold(axes: Any) -> None:
        power_plots.power_axes(axes[0], shown)
        _end_of_speed(axes[0], shown)
        if flown is not None:
            _fold_axes(axes[1], flown)
            axes[0].set_xlabel("")

    caption = (
        "Electrical power against airspeed. Bands: 90 % intervals; dotted: beyond a limit;"
        " vertical lines: the trim leaps at stall."
    )
    if flown is not None:
        caption += " Below: the schedule's fold."
    svg = panels_of("first-picture", power_over_fold, PICTURE, (3, 1) if flown else (1,))
    return figure_block("first-picture", caption, power_command(data), svg)


def _sweep_picture(data: ReportData) -> str:
    titles = {"span_efficiency": "span efficiency $e$",
              "Cl_beta": "dihedral effect, unstable where positive"}  # fmt: skip

    def efficiency_over_dihedral(axes: Any) -> None:
        for one, (name, title) in zip(axes, titles.items(), strict=True):
            curve_axes(one, data.sweep, name, data.plan.alphas_deg)
            one.set_title(title, loc="left", fontsize=9)
        axes[0].set_xlabel("")

    svg = panels_of("first-picture", efficiency_over_dihedral, PICTURE, (1, 1))
    of = f" of {ALONE}" if is_alone(data.sweep, "Cl_beta") else ""
    caption = f"Span efficiency and dihedral effect{of} against fold."
    return figure_block("first-picture", caption, sweep_command(data), svg)


def _end_of_speed(axes: Any, document: Any) -> None:
    """What ends the curve of the fastest setting, written beside its end."""
    known = {
        name: one["speeds"]
        for name, one in document["configurations"].items()
        if one["speeds"]["fastest_m_s"] is not None and one["speeds"]["fastest_limit"]
    }
    if not known:
        return
    name = max(known, key=lambda one: known[one]["fastest_m_s"])
    speed, limit = known[name]["fastest_m_s"], known[name]["fastest_limit"]
    powers = document["configurations"][name]["electrical_power_W"]
    at = float(np.interp(speed, document["airspeed_m_s"],
                         [np.nan if p is None else p for p in powers]))  # fmt: skip
    if np.isfinite(at):
        axes.plot(speed, at, "|", color="k", ms=10, zorder=5)
        words = fill(f"{name}: {limit} ends it", END_WIDTH)
        axes.annotate(words, (speed, at), xytext=(-8, 14), ha="right",
                      textcoords="offset points", fontsize=LEAST_LETTERS)  # fmt: skip


def _fold_axes(axes: Any, flown: Any) -> None:
    axes.plot(flown["airspeed_m_s"], flown["fold_deg"], color="k")
    axes.set_xlabel("airspeed [m/s]")
    axes.set_ylabel("fold [°]")


def _key(data: ReportData) -> str:
    """Slowest, longest aloft, fastest, roll rate: each with unit and error, where known."""
    cells: list[tuple[str, str, str]] = []
    document = data.studies.get("power")
    if document is not None:
        names = list(symmetric(document))
        for words, key, unit in (
            ("slowest on the wings", "slowest_on_wings_m_s", "m/s"),
            ("longest aloft: least power", "least_power_W", "W"),
            ("fastest, level", "fastest_m_s", "m/s"),
        ):
            best = best_setting(document, key, names)
            if best is not None:
                at = document["configurations"][best.name]
                alike = joined([best.name, *(one.name for one in best.alike)])
                cells.append((words, special_value(at, key, unit), alike))
    if data.roll is not None and data.roll.strongest is not None:
        strongest = data.roll.strongest
        pair = f"port {strongest.left_deg:g}°, starboard {strongest.right_deg:g}°"
        cells.append(("steady roll", f"{with_error(*strongest.roll_rate)} °/s", pair))
    if not cells:
        return ""
    items = "".join(
        f"<div><dt>{escaped(words)}</dt><dd>{escaped(value)}</dd><dd>{escaped(where)}</dd></div>"
        for words, value, where in cells
    )
    return f'<dl class="key">{items}</dl>'


def _plain(data: ReportData) -> str:
    report = next(iter(data.points.values()))
    values = report.coefficients
    return (
        f"It has no folding tips. At {data.plan.alpha_deg:g}° its lift coefficient is"
        f" {number(values.CL, 3)} and its span efficiency {number(values.span_efficiency, 3)}."
    )


def _sweep(data: ReportData) -> list[Verdict]:
    """What folding costs in drag, where no study of power says what it costs in watts."""
    if data.sweep is None or "power" in data.studies:
        return []
    first, *others = sweep_sentences(data) or [""]
    further = "" if "lateral" in data.studies else " ".join(others)
    return [Verdict(first, further, "sweep")] if first else []


def _map(data: ReportData) -> list[Verdict]:
    if data.map is None or "roll" in data.studies:
        return []
    roll = data.map.at("Cl", data.plan.alpha_deg)
    if not np.isfinite(roll).any():
        return []
    i, j = np.unravel_index(int(np.nanargmax(roll)), roll.shape)
    port, starboard = data.map.folds_deg[i], data.map.folds_deg[j]
    return [
        Verdict(
            f"The strongest roll to starboard comes from port {port:g}° and starboard"
            f" {starboard:g}°: Cl {number(roll[i, j], 3)}, ± not known.",
            "",
            "map",
        )
    ]
