"""Power against airspeed as tables for people: the speeds that matter, then the curves."""

from collections.abc import Mapping
from typing import Any

from vlm.findings import Finding
from vlm.plain import joined
from vlm.show.tables.power_best import best_sentences, limit_keys
from vlm.show.text.answer import framed, listed, wrapped
from vlm.show.text.layout import fitted, number, section, table, with_interval
from vlm.show.wakes import WAKES
from vlm.show.words import path_words
from vlm.study.power.results import CrossingDocument, PowerDocument

MOST_ROWS = 24
FEW_ROWS = 14
NO_TRIM = "no trim"
AT_AN_END = 0.02
"""How near to an end of the airspeeds a least value stands there [m/s]."""
"""Words for an airspeed without one, where no limit is named."""
PARTS = {
    "power_induced_W": "induced",
    "power_profile_W": "profile",
    "power_body_W": "bodies",
    "power_slipstream_W": "slipstream",
    "power_climb_W": "climb",
    "power_rotor_induced_W": "rotors' air",
    "power_rotor_blades_W": "blades",
    "power_motors_W": "motors",
    "power_fixed_load_W": "fixed load",
}
"""Parts of the power by their keys, with a word for tables and plots."""
ROWS = (
    ("least_power_W", "least power [W]"),
    ("least_power_speed_m_s", "at, for the longest time aloft [m/s]"),
    ("least_consumption_Wh_km", "least energy on the way [W h/km]"),
    ("best_range_speed_m_s", "at, for the longest way [m/s]"),
    ("slowest_on_wings_m_s", "slowest without a stalled strip [m/s]"),
    ("fastest_m_s", "fastest within limits [m/s]"),
)


def power_table(document: PowerDocument, *, full: bool = False) -> str:
    """The answer in words and one table, at most 80 columns; all tables with ``full``."""
    flight = path_words(document["climb_angle_deg"])
    return framed(
        f"{document['title']}: power in {flight}",
        _answer(document),
        [block.rstrip() for block in _short_tables(document)],
        [Finding(**one) for one in document["findings"]],
        _rests_on(document),
        [block.rstrip() for block in _full(document)] if full else None,
        "--full, --json, --plot, --plot-parts",
    )


def _full(document: PowerDocument) -> list[str]:
    blocks = [
        _head(document),
        section("Speeds that matter", _speeds(document)),
        section("Electrical power [W] against airspeed", _powers(document)),
    ]
    for name in document["configurations"]:
        blocks += [
            section(f"Trim of {name}", _trims(document, name)),
            section(f"Power of {name} by where it goes [W]", _parts(document, name)),
            section(f"Rotors of {name}: thrust [N], speed [rpm], shaft power [W]",
                    _rotors(document, name)),
        ]  # fmt: skip
    if document["crossings"]:
        blocks.append(section("Equal power", _crossings(document)))
    said = [
        wrapped(f"- {name}: {one['branches']['words']}", "  ")
        for name, one in document["configurations"].items()
        if one["branches"] is not None
    ]
    if said:
        blocks.append(section("Two trims at one speed", "\n".join(said)))
    blocks.append(listed("Assumed", document["assumptions"]))
    return blocks


def _answer(document: PowerDocument) -> list[str]:
    """Which setting is best at what, then what each can do, one or two sentences each."""
    configurations = document["configurations"]
    alone = len(document["airspeed_m_s"]) == 1
    if alone:
        return [_alone_sentence(document, name) for name in configurations]
    lines = best_sentences(document) if len(configurations) > 1 else []
    lines += [_setting_sentence(document, name) for name in configurations]
    lines += limit_keys(document)
    lines += [_angle_sentence(document, i) for i in range(len(document["body_angles_asked_deg"]))]
    return lines + [_crossing_sentence(document, one) for one in document["crossings"]]


def _crossing_sentence(document: PowerDocument, one: CrossingDocument) -> str:
    """Where two settings draw the same, or change their order by a jump."""
    both = f"{one['first']} and {one['second']}"
    place = f"{with_interval(one['airspeed_m_s'], one['interval_m_s'])} m/s"
    doubt = crossing_doubt(document, one)
    if one["is_jump"]:
        return (
            f"{both} change their order at {place}{doubt}, where one jumps to another trim:"
            f" no equal power; {_less_above(one)}."
        )
    return f"Equal power of {both} at {place}{doubt}; {_less_above(one)}."


def _less_above(one: CrossingDocument) -> str:
    """Which setting draws less above a crossing."""
    if one["less_above"] is None:
        return "above it now the one draws less, now the other"
    return f"above it {one['less_above']} draws less"


def crossing_settings(crossing: CrossingDocument) -> str:
    """The two settings of a crossing, and whether it is a jump."""
    both = f"{crossing['first']} and {crossing['second']}"
    return both + (", a jump: no equal power" if crossing["is_jump"] else "")


def crossing_doubt(document: PowerDocument, crossing: CrossingDocument) -> str:
    """What is added to the airspeed of a crossing whose interval is not known."""
    if crossing["stall_left_open"]:
        return " (± not known: strips past stall)"
    asked = document["uncertainty"] is not None
    return " (± not known)" if asked and crossing["interval_m_s"] is None else ""


def _alone_sentence(document: PowerDocument, name: str) -> str:
    """The power at the one airspeed that was asked for."""
    one, speed = document["configurations"][name], document["airspeed_m_s"][0]
    power = one["electrical_power_W"][0]
    if power is None:
        return f"{name}: no trim at {number(speed, 3)} m/s."
    ends = [one.get(f"electrical_power_W_{end}") for end in ("low", "high")]
    said = with_interval(
        power, None if None in ends else [end[0] for end in ends if end is not None]
    )
    return (
        f"{name}: {said} W at {number(speed, 3)} m/s; one airspeed shows no least and no fastest."
    )


def _setting_sentence(document: PowerDocument, name: str) -> str:
    one: Mapping[str, Any] = document["configurations"][name]
    speeds, ends = one["speeds"], one.get("speed_intervals", {})

    def said(key: str) -> str:
        return with_interval(speeds[key], ends.get(key))

    parts = []
    if speeds["least_power_W"] is not None:
        parts.append(
            f"least power {said('least_power_W')} W at {said('least_power_speed_m_s')}"
            f" m/s{_at_an_end(document, speeds['least_power_speed_m_s'])};"
            f" farthest at {said('best_range_speed_m_s')}"
            f" m/s{_at_an_end(document, speeds['best_range_speed_m_s'])}"
        )
    unknown = speeds["stall_not_known_to_m_s"]
    if unknown is not None:
        parts.append(
            f"not known up to {number(unknown, 3)} m/s whether it is stalled (wings without a"
            " section at a high angle of attack), so nothing best there"
        )
    slow, fast = speeds["slowest_limit"], speeds["fastest_limit"]
    if document["airspeed_m_s"][0] == 0.0:
        parts += _hover_words(one)
    if slow and speeds["slowest_m_s"] is not None:
        why = ", by pitch trim" if speeds["slowest_by_pitch_trim"] else ""
        end = f"{said('slowest_m_s')} m/s ({slow}{why})"
        gaps = _gaps(document, one, speeds["slowest_m_s"])
        if gaps:
            parts.append(f"forbidden {joined([*gaps[:-1], f'{gaps[-1]} {end}'])}")
        else:
            parts.append(f"slowest {end}")
    why = ", by pitch trim" if speeds["fastest_by_pitch_trim"] else ""
    if speeds["fastest_m_s"] is None and all(one["limit"]):
        parts.append(f"no airspeed asked for is allowed ({fast or NO_TRIM})")
    elif speeds["fastest_m_s"] is None:
        parts.append(f"fastest: {fast or 'not known'}")
    else:
        parts.append(f"fastest {said('fastest_m_s')} m/s ({fast}{why})")
    driven = sorted({rotor for names in one["driven_rotors"] for rotor in names})
    if driven:
        parts.append(f"the air drives {', '.join(driven)} at some speeds")
    return f"{name}: {'; '.join(parts)}."


def _at_an_end(document: PowerDocument, speed: float) -> str:
    """Words for a least value at an end of the airspeeds: beyond it may be less."""
    asked = document["airspeed_m_s"]
    if abs(speed - asked[-1]) < AT_AN_END:
        return " (the highest asked for)"
    slowest = asked[0] > 0.0 and abs(speed - asked[0]) < AT_AN_END
    return " (the lowest asked for)" if slowest else ""


def _hover_words(one: Mapping[str, Any]) -> list[str]:
    """Whether the craft hovers, where it does not or that is not known; of the first airspeed."""
    low, high = ((one.get(f"limit_margin_{end}") or [None])[0] for end in ("low", "high"))
    if low is not None and high is not None and low < 0.0 <= high:
        return [f"not known whether it hovers ({one['limit'][0] or one['nearest_limit'][0]})"]
    return [f"no hover ({one['limit'][0]})"] if one["limit"][0] else []


def _gaps(document: PowerDocument, one: Mapping[str, Any], slowest: float) -> list[str]:
    """Stretches that speeds between forbid, up to the slowest airspeed, growing, in words.

    Each from the allowed airspeed below it to the next one allowed, with the first limit on the
    way; the last without its upper end, which is the slowest airspeed itself. Empty where no
    airspeed below that is allowed.
    """
    rows = zip(document["airspeed_m_s"], one["electrical_power_W"], one["limit"], strict=True)
    found: list[str] = []
    last: float | None = None
    passed: list[str] = []
    for speed, power, limit in rows:
        if power is None or limit:
            passed.append(limit or NO_TRIM)
            continue
        if speed >= slowest:
            break
        if passed:
            start = "below" if last is None else f"from {number(last, 3)} to"
            found.append(f"{start} {number(speed, 3)} m/s ({passed[0]})")
        last, passed = speed, []
    return [] if last is None else [*found, f"from {number(last, 3)} to"]


def _angle_sentence(document: PowerDocument, index: int) -> str:
    angle = document["body_angles_asked_deg"][index]
    said = []
    for name, one in document["configurations"].items():
        speeds = one["speeds_at_body_angle_m_s"][index]
        said.append(f"{name} {' and '.join(number(u, 3) for u in speeds) or 'nowhere'}")
    return f"Airspeed [m/s] at a body angle of {angle:g} deg: {', '.join(said)}."


def _short_tables(document: PowerDocument) -> list[str]:
    """Power of all settings against airspeed, in as many tables as 80 columns ask for."""
    names = list(document["configurations"])
    step = max(1, -(-len(document["airspeed_m_s"]) // FEW_ROWS))
    chosen = list(range(0, len(document["airspeed_m_s"]), step))
    columns = {name: _power_column(document, name, chosen) for name in names}
    speeds = [number(document["airspeed_m_s"][i], 3) for i in chosen]
    rows = [[u, *(columns[name][i] for name in names)] for i, u in enumerate(speeds)]
    tables = fitted(["m/s", *names], rows, left=0)
    marked = any(any(c["limit"]) for c in document["configurations"].values())
    note = "\n* beyond a limit of the craft" if marked else ""
    return [section("Electrical power [W] against airspeed", tables + note)]


def _power_column(document: PowerDocument, name: str, chosen: list[int]) -> list[str]:
    one = document["configurations"][name]
    low, high = one.get("electrical_power_W_low"), one.get("electrical_power_W_high")
    cells = []
    for i in chosen:
        ends = None if low is None or high is None else (low[i], high[i])
        mark = "*" if one["limit"][i] else " " if any(one["limit"]) else ""
        cells.append(with_interval(one["electrical_power_W"][i], ends) + mark)
    return cells


def _rests_on(document: PowerDocument) -> str:
    uncertainty = document["uncertainty"]
    said = "no intervals"
    if uncertainty is not None:
        said = f"±: to the farther end of the {uncertainty['interval_percent']:g} % interval"
    elif document["intervals_asked"]:
        said = "no intervals: the file has no [uncertainty]"
    else:
        said = "no intervals: left out as asked"
    return (
        f"{number(document['mass_kg'])} kg, {number(document['air']['density_kg_m3'])}"
        f" kg/m^3, {document['lattice']['panels']} panels, the file's sections and rotors;"
        f"{_axis_wake(document)} {said}"
    )


def _axis_wake(document: PowerDocument) -> str:
    """Named where it is not that of the stream."""
    return f" {WAKES['craft']};" if document["wake"] == "craft" else ""


def _parts(document: PowerDocument, name: str) -> str:
    one = document["configurations"][name]
    keys = [key for key in PARTS if any(abs(v or 0.0) > 0.0 for v in one[key])]
    heads = ["m/s", *(PARTS[key] for key in keys), "all", "pitch trim"]
    rows = [
        [
            number(document["airspeed_m_s"][i], 3),
            *(number(one[key][i], 3) for key in keys),
            number(one["electrical_power_W"][i], 4), number(one["pitch_trim_W"][i], 2),
        ]
        for i in _thinned(document)
    ]  # fmt: skip
    note = '\npitch trim: power above that with the same thrust on all rotors, within "all"'
    return table(heads, rows, left=0) + note


def _rotors(document: PowerDocument, name: str) -> str:
    one = document["configurations"][name]
    heads = ["m/s", *one["rotors"], "nearest limit"]
    rows = [
        [
            number(document["airspeed_m_s"][i], 3),
            *(" ".join(number(r[key][i], 3) for key in ("thrust_N", "speed_rpm", "shaft_power_W"))
              for r in one["rotors"].values()),
            one["nearest_limit"][i],
        ]
        for i in _thinned(document)
    ]  # fmt: skip
    return table(heads, rows, left=0)


def _head(document: PowerDocument) -> str:
    names = [
        f"{name} ({c['fold_left_deg']:g}/{c['fold_right_deg']:g} deg)"
        for name, c in document["configurations"].items()
    ]
    uncertainty = document["uncertainty"]
    said = "no intervals: "
    said += "the file has no [uncertainty]" if document["intervals_asked"] else "left out as asked"
    if uncertainty is not None:
        said = (
            f"[low, high]: {uncertainty['interval_percent']:g} % intervals of"
            f" {uncertainty['samples']} samples of the stated uncertainties"
        )
    flight = path_words(document["climb_angle_deg"])
    return (
        f"Power against airspeed, {flight}\n"
        f"{number(document['mass_kg'])} kg at {number(document['air']['density_kg_m3'])} kg/m^3;"
        f" {document['lattice']['panels']} panels;{_axis_wake(document)} folds port/starboard:"
        f" {', '.join(names)}\n"
        f"{said}\n"
    )


def _speeds(document: PowerDocument) -> str:
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


def _thinned(document: PowerDocument) -> list[int]:
    """Which speeds are shown."""
    count = len(document["airspeed_m_s"])
    step = max(1, -(-count // MOST_ROWS))
    return list(range(0, count, step))


def _powers(document: PowerDocument) -> str:
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
            row.append("-" if watts is None else f"{watts:+z.1f} W ({percent:+z.1f} %)")
        rows.append(row)
    marked = any(any(c["limit"]) for c in document["configurations"].values())
    note = "\n* beyond a limit of the craft" if marked else ""
    return table(heads, rows, left=0) + note


def _trims(document: PowerDocument, name: str) -> str:
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


def _crossings(document: PowerDocument) -> str:
    rows = [
        [
            crossing_settings(c),
            _with_interval(c["airspeed_m_s"], c["interval_m_s"]) + crossing_doubt(document, c),
            c["less_above"] or "now the one, now the other",
        ]
        for c in document["crossings"]
    ]
    return table(["settings", "airspeed [m/s]", "draws less above it"], rows)
