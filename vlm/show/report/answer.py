"""The question and the answer: what the numbers below say, in sentences, first of all."""

from typing import Any

import numpy as np

from vlm.show.page import escaped
from vlm.show.report.parts import Section, opened
from vlm.show.tables.layout import number
from vlm.study.naming import printed_width
from vlm.study.report_data import ReportData

MOST_OF_POWER = 4
QUESTION = (
    "What does folding the tips do for {title}, how should they stand, and where does it end?"
)


def section(data: ReportData) -> Section:
    """The answer; each sentence links to where its numbers stand."""
    makers = (_mission, _power, _sweep, _map, _lateral, _roll, _hinge)
    sentences = [sentence for make in makers for sentence in make(data)]
    if not sentences:
        sentences = [(_plain(data), "sweep")]
    items = "".join(
        f'<li>{escaped(text)} <a href="#{ident}">why</a></li>' for text, ident in sentences
    )
    title = data.craft.title.partition(",")[0]
    body = f'<p class="question">{escaped(QUESTION.format(title=title))}</p><ul>{items}</ul>'
    return Section("answer", "Question and answer", body)


Sentence = tuple[str, str]


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


def _mission(data: ReportData) -> list[Sentence]:
    document = data.studies.get("mission")
    return [] if document is None else [(str(document["answer"]), "mission")]


def _power(data: ReportData) -> list[Sentence]:
    document = data.studies.get("power")
    if document is None:
        return []
    least = {
        name: one["speeds"]
        for name, one in document["configurations"].items()
        if one["speeds"]["least_power_W"] is not None
    }
    if not least:
        return []
    best = min(least, key=lambda name: least[name]["least_power_W"])
    texts = [
        f"It stays aloft longest with {best}: {number(least[best]['least_power_W'], 3)} W at"
        f" {number(least[best]['least_power_speed_m_s'], 3)} m/s."
    ]
    fastest = {n: s["fastest_m_s"] for n, s in least.items() if s["fastest_m_s"] is not None}
    if fastest:
        quick = max(fastest, key=lambda name: fastest[name])
        texts.append(f"It flies fastest with {quick}: {number(fastest[quick], 3)} m/s.")
    texts += [
        f"{opened(crossing['first'])} and {crossing['second']} draw the same power at"
        f" {number(crossing['airspeed_m_s'], 3)} m/s."
        for crossing in document["crossings"]
    ]
    return [(text, "power") for text in texts[:MOST_OF_POWER]]


def _lateral(data: ReportData) -> list[Sentence]:
    document = data.studies.get("lateral")
    if not document or not document["neutral_folds"]:
        return []
    roots = ", ".join(
        f"{root['fold_deg']:.1f}° (± {number(root['half_width_deg'], 1)}°)"
        for root in document["neutral_folds"]
    )
    speed = document["state"]["airspeed_m_s"]
    return [
        (f"In level flight at {speed:g} m/s the dihedral effect vanishes at {roots}.", "lateral")
    ]


def _roll(data: ReportData) -> list[Sentence]:
    document = data.studies.get("roll")
    if not document or not document["strongest"]:
        return []
    pair = document["strongest"]
    error = pair.get("rolling_moment_error_N_m")
    width = f" ± {number(error, 2)}" if error is not None else ""
    return [
        (
            f"At {document['state']['airspeed_m_s']:g} m/s the strongest roll with lift held is"
            f" {number(pair['rolling_moment_N_m'], 3)}{width} N m, with port at"
            f" {pair['left_deg']:g}° and starboard at {pair['right_deg']:g}°: a steady"
            f" {number(pair['roll_rate_deg_s'], 3)}°/s.",
            "roll",
        )
    ]


def _hinge(data: ReportData) -> list[Sentence]:
    document = data.studies.get("hinge")
    if not document:
        return []
    limits = document["limits"]
    texts = []
    for name in ("dry", "greased"):
        found = (limits.get("moved") or {}).get(name)
        if found and found["airspeed_m_s"] is not None:
            texts.append(f"{found['airspeed_m_s']:.0f} m/s with a {name} worm")
    verdicts = ", ".join(
        f"{name}: {document['worm'][name]['verdict']}" for name in ("dry", "greased")
    )
    sentence = f"Whether the worm holds a tip by itself ({verdicts}) is no brake certificate."
    if texts:
        sentence = f"The servo moves a tip up to {' and '.join(texts)}. {sentence}"
    return [(sentence, "hinge")]
