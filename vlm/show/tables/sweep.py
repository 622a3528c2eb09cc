"""A sweep as a table for people: key numbers against fold, at one angle of attack."""

import json
from typing import Any

import numpy as np

from vlm.findings import Finding
from vlm.show.text.answer import framed, wrapped
from vlm.show.text.layout import fitted, number, with_error
from vlm.show.text.sweep_answer import (
    cost_of_folding,
    dihedral_ranges,
    strongest_roll,
    with_numbers,
)
from vlm.study.point.rotors_across import ALONE
from vlm.study.sweep.naming import is_alone, printed_width

COLUMNS = ("CL", "CDi", "span_efficiency", "Cl", "Cn", "Cl_beta", "Cl_p", "static_margin")
HEADS = {"span_efficiency": "e", "static_margin": "static margin"}
PLACES = {"fold": "fold [deg]", "fold_left": "port [deg]", "fold_right": "starboard [deg]"}
MOST_ROWS = 60
DEGREES = " deg"
SIGNS = (
    "Per radian. Positive: Cl starboard wing down, Cn nose to starboard; Cl_beta < 0 is a stable"
    " dihedral effect."
)
OF_WINGS = f"Derivatives and static margin are those of {ALONE}."


def sweep_table(dataset: Any, *, full: bool = False) -> str:
    """Key numbers of a sweep; with several angles of attack, at the one nearest 4 degrees.

    A long sweep is printed by every second case, or every third, and so on; by all with ``full``.
    """
    polar = dataset.sel(beta=0.0, method="nearest")
    chosen = polar.sel(alpha=4.0, method="nearest")
    outer = list(chosen["failure"].dims)
    flat = chosen.stack(case=outer)
    count = flat.sizes["case"]
    step = 1 if full else max(1, int(np.ceil(count / MOST_ROWS)))
    rows = [_row(flat.isel(case=i), outer) for i in range(0, count, step)]
    places = [PLACES.get(name, name) for name in outer]
    shown = [i for i, name in enumerate(COLUMNS) if not _vanishes(flat, name)]
    n = len(places)
    heads = [*places, *(HEADS.get(COLUMNS[i], COLUMNS[i]) for i in shown)]
    cells = [row[:n] + [row[n + i] for i in shown] for row in rows]
    signs = f"{SIGNS} {OF_WINGS}" if is_alone(chosen, "Cl_beta") else SIGNS
    blocks = [wrapped(signs), fitted(heads, cells, left=0, repeated=n)]
    if step > 1:
        blocks.append(f"({count} cases; one in {step} is shown)")
    title = (
        f"{chosen.attrs['title']}: sweep, angle of attack {float(chosen['alpha']):g} deg,"
        f" sideslip {float(chosen['beta']):g} deg"
    )
    findings = [Finding(**one) for one in json.loads(dataset.attrs["findings"])]
    more = "--full, --json, --plot" if "CL_error" in chosen else "--errors, --full, --json, --plot"
    return framed(title, _answer(chosen, outer, polar), blocks, findings, _rests_on(chosen.attrs),
                  [] if full else None, more)  # fmt: skip


def _answer(chosen: Any, outer: list[str], polar: Any) -> list[str]:
    if outer == ["fold_left", "fold_right"]:
        found = [strongest_roll(chosen, DEGREES)]
    elif outer == ["fold"] and (known := with_numbers(chosen)) is not None:
        found = [cost_of_folding(known, DEGREES, polar), dihedral_ranges(known, DEGREES)]
    else:
        found = []
    return [*_blown(chosen), *(text for text in found if text)]


def _blown(chosen: Any) -> list[str]:
    """One sentence on the slipstream that the numbers hold; none where there is none."""
    if "slipstream_thrust_N" not in chosen:
        return []
    thrust = chosen["slipstream_thrust_N"]
    low, high = (number(float(v), 3) for v in (thrust.min(), thrust.max()))
    range_of = low if low == high else f"{low} to {high}"
    return [f"Slipstream on: thrust {range_of} N at {chosen.attrs['airspeed_m_s']:g} m/s, held."]


def _vanishes(flat: Any, name: str) -> bool:
    """Whether a moment is zero by symmetry in all cases."""
    return name in ("Cl", "Cn") and not bool((np.abs(flat[name].fillna(0.0)) > 1e-12).any())


def _rests_on(said: Any) -> str:
    point = ", ".join(number(float(v)) for v in said["moment_point_m"])
    return (
        f"reference area {number(said['reference_area_m2'])} m^2, span"
        f" {number(said['reference_span_m'])} m, chord {number(said['reference_chord_m'])} m,"
        f" moment point ({point}) m; no friction, no stall"
    )


def _row(one: Any, outer: list[str]) -> list[str]:
    place = [f"{float(one[name]):g}" for name in outer]
    if str(one["failure"].item()):
        return place + ["-"] * len(COLUMNS)
    return place + [_cell(one, name) for name in COLUMNS]


def _cell(one: Any, name: str) -> str:
    width = printed_width(one, name)
    value = float(one[name])
    return number(value, 3) if width is None else with_error(value, float(width))
