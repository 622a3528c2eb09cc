"""Which setting is best at what, in sentences: one alone only where the difference stands out."""

from collections.abc import Iterable, Mapping
from typing import Any

from vlm.plain import joined
from vlm.show.text.layout import number, with_error, with_interval
from vlm.study.power.best import Rival, best_setting, beyond_asked
from vlm.study.power.pitch_trim import keys_behind
from vlm.study.power.results import PowerDocument

AT_THE_END = 0.02
"""Distance from the end of some airspeeds within which a least power stands at it [m/s]."""


def best_sentences(document: PowerDocument, names: Iterable[str] | None = None) -> list[str]:
    """Longest aloft and fastest: setting, value and what another setting loses against it.

    Parameters
    ----------
    document : of a power study
    names : settings to choose from; all if None
    """
    names = list(document["configurations"] if names is None else names)
    return [text for text in (_longest(document, names), _fastest(document, names)) if text]


def symmetric(document: Any) -> dict[str, Any]:
    """Settings of a power study with both tips alike; all of them if there is none."""
    every = document["configurations"]
    alike = {n: one for n, one in every.items() if one["fold_left_deg"] == one["fold_right_deg"]}
    return alike or dict(every)


def special_value(one: Mapping[str, Any], key: str, unit: str) -> str:
    """A speed or power of a setting that matters, with its interval and its unit."""
    ends = (one.get("speed_intervals") or {}).get(key)
    return f"{with_interval(one['speeds'][key], ends)} {unit}"


def _longest(document: PowerDocument, names: list[str]) -> str:
    best = best_setting(document, "least_power_W", names)
    if best is None:
        return ""
    at = document["configurations"][best.name]
    value = (
        f"{special_value(at, 'least_power_W', 'W')} at"
        f" {special_value(at, 'least_power_speed_m_s', 'm/s')}"
    )
    if at["speeds"]["least_power_speed_m_s"] in (
        document["airspeed_m_s"][0], document["airspeed_m_s"][-1],
    ):  # fmt: skip
        value += ", an end of the speeds asked for"
    elif _at_unknown_stall(at["speeds"]):
        value += "; slower it is not known whether it is stalled, nor what it draws"
    if best.alike:
        alike = _alike(best.name, best.alike, "W", intervals=_has_intervals(document))
        return f"Longest aloft: {alike}; {best.name} {value}."
    more = [f"; {_size(one, 'W')} more with {one.name}" for one in best.rivals[:1]]
    return f"Longest aloft with {best.name}: {value}{''.join(more)}."


def _at_unknown_stall(speeds: Mapping[str, Any]) -> bool:
    """Whether least power stands where wings without sections are just known not to be stalled."""
    end = speeds.get("stall_not_known_to_m_s")
    return end is not None and abs(speeds["least_power_speed_m_s"] - end) < AT_THE_END


def _fastest(document: PowerDocument, names: list[str]) -> str:
    beyond = beyond_asked(document, names)
    if beyond and len(beyond) < len(names):
        return _fastest_beyond(document, beyond, [name for name in names if name not in beyond])
    best = best_setting(document, "fastest_m_s", names)
    if best is None:
        return ""
    at = document["configurations"][best.name]
    limit = at["speeds"]["fastest_limit"]
    value = special_value(at, "fastest_m_s", "m/s")
    ending = f"; {limit} ends it" if limit else ""
    if best.alike:
        alike = _alike(best.name, best.alike, "m/s", intervals=_has_intervals(document))
        return f"Fastest: {alike}; {best.name} {value}{ending}."
    less = [f"; {_size(one, 'm/s')} less with {one.name}" for one in best.rivals[:1]]
    return f"Fastest with {best.name}: {value}{ending}{''.join(less)}."


def _fastest_beyond(document: PowerDocument, beyond: list[str], slower: list[str]) -> str:
    """Settings that fly faster than was asked, and the best of the others."""
    top = f"beyond {number(document['airspeed_m_s'][-1], 3)} m/s, the highest asked for"
    said = f"Fastest with {beyond[0]}: {top}"
    if len(beyond) > 1:
        said = f"Fastest: not known which of {joined(beyond)}, each {top}"
    rival = best_setting(document, "fastest_m_s", slower)
    if rival is None:
        return f"{said}."
    at = special_value(document["configurations"][rival.name], "fastest_m_s", "m/s")
    return f"{said}; {rival.name} {at}."


def _alike(name: str, rivals: tuple[Rival, ...], unit: str, *, intervals: bool) -> str:
    """Settings that cannot be distinguished, with the widest difference among them."""
    names = joined([name, *(one.name for one in rivals)])
    if intervals and any(one.half_width is None for one in rivals):
        return f"not known whether {names} differ"
    widest = max(rivals, key=lambda one: abs(one.difference))
    most = "at most " if len(rivals) > 1 else ""
    return f"no difference known between {names} ({most}{_size(widest, unit)})"


def _has_intervals(document: PowerDocument) -> bool:
    return document["uncertainty"] is not None


def _size(rival: Rival, unit: str) -> str:
    size = abs(rival.difference)
    said = number(size, 2) if rival.half_width is None else with_error(size, rival.half_width)
    return f"{said} {unit}"


def limit_keys(document: PowerDocument) -> list[str]:
    """The keys behind the limits that are named, and what to do about pitch trim."""
    speeds = [one["speeds"] for one in document["configurations"].values()]
    named = [one[key] for one in speeds for key in ("slowest_limit", "fastest_limit")]
    if speeds and document["airspeed_m_s"][0] == 0.0:
        named += [one["limit"][0] for one in document["configurations"].values()]
    keys = keys_behind(named)
    by_pitch = any(s["slowest_by_pitch_trim"] or s["fastest_by_pitch_trim"] for s in speeds)
    if not keys:
        return []
    pitch = (
        " By pitch trim: equal thrusts would keep within it; foldspan check says where the centre"
        " of gravity gives them."
    )
    return [f"Keys behind these limits: {keys}.{pitch if by_pitch else ''}"]
