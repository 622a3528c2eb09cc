"""Power against airspeed as tables for people: the speeds that matter, then the curves."""

from collections.abc import Mapping
from typing import Any

from vlm.cautions import SHORT_CAUTION
from vlm.show.tables.layout import number, section, table

Document = Mapping[str, Any]
MOST_ROWS = 24
ROWS = (
    ("least_power_W", "least power [W]"),
    ("least_power_speed_m_s", "at, for the longest time aloft [m/s]"),
    ("least_consumption_Wh_km", "least energy on the way [W h/km]"),
    ("best_range_speed_m_s", "at, for the longest way [m/s]"),
    ("slowest_on_wings_m_s", "slowest without a stalled strip [m/s]"),
    ("fastest_m_s", "fastest within limits [m/s]"),
)


def power_table(document: Document) -> str:
    """The whole answer as text."""
    blocks = [
        _head(document),
        section("Speeds that matter", _speeds(document)),
        section("Electrical power [W] against airspeed", _powers(document)),
    ]
    blocks += [
        section(f"Trim of {name}", _trims(document, name)) for name in document["configurations"]
    ]
    if document["crossings"]:
        blocks.append(section("Equal power", _crossings(document)))
    blocks.append(section("Assumptions", "\n".join(f"- {a}" for a in document["assumptions"])))
    return "\n".join([*blocks, SHORT_CAUTION])


def _head(document: Document) -> str:
    names = [
        f"{name} ({c['fold_left_deg']:g}/{c['fold_right_deg']:g} deg)"
        for name, c in document["configurations"].items()
    ]
    uncertainty = document["uncertainty"]
    told = "no intervals: "
    told += "the file has no [uncertainty]" if document["intervals_asked"] else "left out as asked"
    if uncertainty is not None:
        told = (
            f"[low, high]: {uncertainty['interval_percent']:g} % intervals of"
            f" {uncertainty['samples']} samples of the stated uncertainties"
        )
    climb = document["climb_angle_deg"]
    flight = "level flight" if climb == 0.0 else f"climb at {climb:g} deg"
    return (
        f"{document['title']}: power against airspeed, {flight}\n"
        f"{number(document['mass_kg'])} kg at {number(document['air']['density_kg_m3'])} kg/m^3;"
        f" {document['lattice']['panels']} panels; folds port/starboard: {', '.join(names)}\n"
        f"{told}\n"
    )


def _speeds(document: Document) -> str:
    configurations = document["configurations"]
    rows = []
    for key, words in ROWS:
        cells = [words]
        for one in configurations.values():
            ends = one.get("speed_intervals", {}).get(key)
            cells.append(_with_interval(one["speeds"][key], ends))
        rows.append(cells)
    rows.append(
        ["what forbids more", *(c["speeds"]["fastest_limit"] for c in configurations.values())]
    )
    return table(["", *configurations], rows)


def _with_interval(value: float | None, ends: Any) -> str:
    if ends is None or None in ends:
        return number(value)
    return f"{number(value)} [{number(ends[0], 3)}, {number(ends[1], 3)}]"


def _thinned(document: Document) -> list[int]:
    """Which speeds are shown."""
    count = len(document["airspeed_m_s"])
    step = max(1, -(-count // MOST_ROWS))
    return list(range(0, count, step))


def _powers(document: Document) -> str:
    names = list(document["configurations"])
    heads = ["airspeed [m/s]", *names]
    heads += [f"{d['second']} - {d['first']}" for d in document["differences"]]
    rows = []
    for i in _thinned(document):
        row = [number(document["airspeed_m_s"][i], 3)]
        for name in names:
            one = document["configurations"][name]
            low, high = one.get("electrical_power_W_low"), one.get("electrical_power_W_high")
            ends = None if low is None or high is None else (low[i], high[i])
            mark = "*" if one["limit"][i] else ""
            row.append(_with_interval(one["electrical_power_W"][i], ends) + mark)
        for difference in document["differences"]:
            watts, percent = difference["difference_W"][i], difference["difference_percent"][i]
            row.append("-" if watts is None else f"{watts:+.1f} W ({percent:+.1f} %)")
        rows.append(row)
    marked = any(any(c["limit"]) for c in document["configurations"].values())
    note = "\n* beyond a limit of the craft" if marked else ""
    return table(heads, rows, left=0) + note


def _trims(document: Document, name: str) -> str:
    one = document["configurations"][name]
    keys = ("body_angle_deg", "thrust_N", "wing_share", "stall_margin_deg", "pitch_margin_N_m",
            "limit_margin")  # fmt: skip
    heads = ["airspeed [m/s]", "body angle [deg]", "thrust [N]", "on the wings",
             "stall margin [deg]", "pitch margin [N m]", "limit margin",
             "forbidden by"]  # fmt: skip
    rows = []
    for i in _thinned(document):
        cells = [number(one[key][i], 3) for key in keys]
        rows.append([number(document["airspeed_m_s"][i], 3), *cells, one["limit"][i]])
    return table(heads, rows, left=0)


def _crossings(document: Document) -> str:
    rows = [
        [f"{c['first']} and {c['second']}", _with_interval(c["airspeed_m_s"], c["interval_m_s"])]
        for c in document["crossings"]
    ]
    return table(["settings", "airspeed [m/s]"], rows)
