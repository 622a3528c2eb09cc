"""The table of power over the values of a key, for people."""

from collections.abc import Sequence
from typing import Any

from vlm.findings import Finding
from vlm.show.text.answer import framed
from vlm.show.text.layout import fitted, number, section, with_interval
from vlm.study.power.over import PowerOverDocument
from vlm.study.power.results import PowerDocument

COLUMNS = (
    ("least_power_W", "least, W"),
    ("least_power_speed_m_s", "at m/s"),
    ("best_range_speed_m_s", "farthest at"),
    ("slowest_on_wings_m_s", "on wings from"),
    ("fastest_m_s", "fastest"),
)


def power_over_table(document: PowerOverDocument, findings: Sequence[Finding]) -> str:
    """Every setting at every value: least power and the speeds that matter; power alone where one
    airspeed was asked for."""
    first = document["studies"][0]
    key, values = document["over"]["key"], document["over"]["values"]
    names = list(first["configurations"])
    rests = (
        f"{number(first['air']['density_kg_m3'], 4)} kg/m^3, the file's sections, rotors; ±: half"
        " of the interval at one value, not of the difference between two"
    )
    return framed(
        f"{first['title']}: power over {key} from {min(values):g} to {max(values):g}",
        [_span(document, name) for name in names],
        [section(name, _rows(document, name)).rstrip() for name in names],
        findings, rests, None, "--json, -o",
    )  # fmt: skip


def _is_alone(document: PowerOverDocument) -> bool:
    return len(document["studies"][0]["airspeed_m_s"]) == 1


def _power(study: PowerDocument, name: str) -> tuple[float | None, Any, float | None]:
    """Power at the one airspeed asked for, else the least; its interval; the airspeed."""
    one = study["configurations"][name]
    if len(study["airspeed_m_s"]) > 1:
        ends = one.get("speed_intervals", {}).get("least_power_W")
        return one["speeds"]["least_power_W"], ends, one["speeds"]["least_power_speed_m_s"]
    both = [one.get(f"electrical_power_W_{end}") for end in ("low", "high")]
    ends = None if None in both else [end[0] for end in both if end is not None]
    return one["electrical_power_W"][0], ends, study["airspeed_m_s"][0]


def _span(document: PowerOverDocument, name: str) -> str:
    """The lowest and highest power over the values, in one sentence."""
    values = document["over"]["values"]
    found = [(*_power(s, name), v) for v, s in zip(values, document["studies"], strict=True)]
    known = [one for one in found if one[0] is not None]
    if not known:
        return f"{name}: no trim at any value."
    low, high = (pick(known, key=lambda one: one[0] or 0.0) for pick in (min, max))
    what = "power" if _is_alone(document) else "least power"
    ends = [f"{with_interval(*one[:2])} W at {one[3]:g}" for one in (low, high)]
    return f"{name}: {what} from {' to '.join(ends)}."


def _rows(document: PowerOverDocument, name: str) -> str:
    key, rows = document["over"]["key"], []
    alone = _is_alone(document)
    for value, study in zip(document["over"]["values"], document["studies"], strict=True):
        if alone:
            power, ends, speed = _power(study, name)
            rows.append([f"{value:g}", with_interval(power, ends), number(speed, 3)])
            continue
        one = study["configurations"][name]
        intervals = one.get("speed_intervals", {})
        cells = [with_interval(one["speeds"][part], intervals.get(part)) for part, _ in COLUMNS]
        rows.append([f"{value:g}", *cells])
    heads = ["power, W", "at m/s"] if alone else [head for _, head in COLUMNS]
    return fitted([key, *heads], rows, left=0)
