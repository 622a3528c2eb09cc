"""The question and the answer: a verdict, what is not known, one picture, four figures."""

from typing import Any

import numpy as np

from vlm.show.page import escaped
from vlm.show.plots import power as power_plots
from vlm.show.plots.sweep import curve_axes
from vlm.show.report.flying import power_command
from vlm.show.report.parts import Section, figure_block, panels_of
from vlm.show.report.sweep import sweep_command
from vlm.show.report.verdict import (
    Sentence,
    open_questions,
    symmetric,
    verdicts,
    with_interval,
)
from vlm.show.tables.layout import number
from vlm.study.naming import printed_width
from vlm.study.report_data import ReportData

QUESTION = (
    "What does folding the tips do for {title}, how should they stand, and where does it end?"
)
PICTURE = (5.6, 5.2)


def section(data: ReportData) -> Section:
    """The answer; each sentence links to where its numbers stand."""
    sentences = verdicts(data) or [*_sweep(data), *_map(data)] or [(_plain(data), "sweep")]
    open_ = open_questions(data)
    title = data.craft.title.partition(",")[0]
    words = [f'<p class="question">{escaped(QUESTION.format(title=title))}</p>']
    words += [_linked(*sentence) for sentence in sentences]
    if open_:
        items = "".join(f"<li>{_words(*sentence)}</li>" for sentence in open_)
        words.append(f'<div class="unknown"><h3>Not known</h3><ul>{items}</ul></div>')
    body = f'<div class="first"><div>{"".join(words)}</div>{_picture(data)}</div>{_key(data)}'
    return Section("answer", "Question and answer", body)


def _words(text: str, ident: str) -> str:
    return f'{escaped(text)} <a href="#{ident}">why</a>'


def _linked(text: str, ident: str) -> str:
    return f"<p>{_words(text, ident)}</p>"


def _picture(data: ReportData) -> str:
    """Power against airspeed over the schedule's fold, or span efficiency and dihedral effect."""
    document = data.studies.get("power")
    if document is not None:
        shown = document | {"configurations": symmetric(document)}
        schedule = (data.studies.get("schedule") or {}).get("document")
        flown = schedule["flown"] if schedule is not None else None

        def power_over_fold(axes: Any) -> None:
            power_plots.power_axes(axes[0], shown)
            if flown is not None:
                _fold_axes(axes[1], flown)
                axes[0].set_xlabel("")

        caption = "Electrical power against airspeed; bands: 90 % intervals."
        if flown is not None:
            caption += " Below: the schedule's fold."
        svg = panels_of("first-picture", power_over_fold, PICTURE, (3, 1) if flown else (1,))
        return figure_block("first-picture", caption, power_command(data), svg)
    if data.sweep is None:
        return ""

    def efficiency_over_dihedral(axes: Any) -> None:
        for one, name in zip(axes, ("span_efficiency", "Cl_beta"), strict=True):
            curve_axes(one, data.sweep, name, data.plan.alphas_deg)

    svg = panels_of("first-picture", efficiency_over_dihedral, PICTURE, (1, 1))
    caption = "Span efficiency and dihedral effect against fold."
    return figure_block("first-picture", caption, sweep_command(data), svg)


def _fold_axes(axes: Any, flown: Any) -> None:
    axes.plot(flown["airspeed_m_s"], flown["fold_deg"], color="k")
    axes.set_xlabel("airspeed [m/s]")
    axes.set_ylabel("fold [°]")


def _key(data: ReportData) -> str:
    """Slowest, longest aloft, fastest, roll rate: each with unit and error, where known."""
    cells: list[tuple[str, str, str]] = []
    document = data.studies.get("power")
    if document is not None:
        for words, key, unit, pick in (
            ("slowest on the wings", "slowest_on_wings_m_s", "m/s", min),
            ("least power", "least_power_W", "W", min),
            ("fastest", "fastest_m_s", "m/s", max),
        ):
            known = {
                one["speeds"][key]: name
                for name, one in symmetric(document).items()
                if one["speeds"][key] is not None
            }
            if known:
                name = known[pick(known)]
                at = document["configurations"][name]
                cells.append((words, with_interval(at, key, unit), name))
    roll = (data.studies.get("roll") or {}).get("strongest")
    if roll:
        pair = f"port {roll['left_deg']:g}°, starboard {roll['right_deg']:g}°"
        cells.append(("steady roll", f"{number(roll['roll_rate_deg_s'], 2)} °/s", pair))
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


def _sweep(data: ReportData) -> list[Sentence]:
    if data.sweep is None:
        return []
    chosen = data.sweep.sel(alpha=data.plan.alpha_deg, method="nearest").isel(beta=0)
    folds, efficiency = chosen["fold"].values, chosen["span_efficiency"].values
    known = np.isfinite(efficiency)
    if not known.any():
        return []
    folds, efficiency = folds[known], efficiency[known]
    lift = chosen["CL"].values[known]
    best, worst = int(np.argmax(efficiency)), int(np.argmin(efficiency))
    more = 100.0 * (efficiency[best] / efficiency[worst] - 1.0)
    steep = int(np.argmax(lift))
    found = [
        (
            f"For the same lift, induced drag is least with both tips at {folds[best]:g}° (span"
            f" efficiency {efficiency[best]:.3f}) and {more:.0f} % more at {folds[worst]:g}°.",
            "sweep",
        ),
        (
            f"At {float(chosen['alpha']):g}° angle of attack lift is greatest at {folds[steep]:g}°"
            f" and {100.0 * (1.0 - lift.min() / lift[steep]):.0f} % less at"
            f" {folds[int(np.argmin(lift))]:g}°.",
            "sweep",
        ),
    ]
    return found + _dihedral(chosen, known)


def _dihedral(chosen: Any, known: Any) -> list[Sentence]:
    folds, slope = chosen["fold"].values[known], chosen["Cl_beta"].values[known]
    found = printed_width(chosen, "Cl_beta")
    width = np.zeros_like(slope) if found is None else found[known]
    stable, unstable = folds[slope < -width], folds[slope > width]
    alpha = float(chosen["alpha"])

    def ranges(values: Any) -> str:
        step = np.max(np.diff(folds)) * 1.01 if len(folds) > 1 else 1.0
        parts = np.split(values, np.flatnonzero(np.diff(values) > step) + 1)
        texts = [f"{p[0]:g}°" if len(p) == 1 else f"{p[0]:g}° to {p[-1]:g}°" for p in parts]
        return " and ".join(texts)

    texts = []
    if len(stable):
        texts.append(f"stable at {ranges(stable)}")
    if len(unstable):
        texts.append(f"unstable at {ranges(unstable)}")
    if not texts:
        return []
    return [(f"Its dihedral effect at {alpha:g}° angle of attack is {', '.join(texts)}.", "sweep")]


def _map(data: ReportData) -> list[Sentence]:
    if data.map is None or "roll" in data.studies:
        return []
    roll = data.map.at("Cl", data.plan.alpha_deg)
    if not np.isfinite(roll).any():
        return []
    i, j = np.unravel_index(int(np.nanargmax(roll)), roll.shape)
    port, starboard = data.map.folds_deg[i], data.map.folds_deg[j]
    return [
        (
            f"The strongest roll to starboard comes from port {port:g}° and starboard"
            f" {starboard:g}°: Cl {roll[i, j]:.4f}.",
            "map",
        )
    ]
