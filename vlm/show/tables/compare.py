"""Craft and settings side by side, as text."""

from collections.abc import Sequence
from math import log
from typing import Any

from vlm.plain import joined
from vlm.show.text.answer import framed, wrapped
from vlm.show.text.layout import cut, fitted, number, with_error
from vlm.show.words import litres
from vlm.study.compare.results import (
    ComparedNumber,
    Comparison,
    Group,
    Known,
    Named,
)
from vlm.verdicts import SIGN_NOT_KNOWN

HEADLINES = (
    "lift_N", "induced_drag_N", "thrust_N", "static_margin", "rolling_moment_N_m", "least_power_W",
    "fastest_m_s", "mission_energy_Wh",
)  # fmt: skip
"""Numbers whose differences stand in the answer."""
SHARED = {"lift_N", "induced_drag_N", "thrust_N", "rolling_moment_N_m", "least_power_W",
          "mission_energy_Wh", "fastest_m_s"}  # fmt: skip
"""Of these, those whose difference is given in per cent too."""
MOST_KEYS, WIDEST, HEAD = 12, 26, 20
"""Keys shown without --full; characters of a cell, and of a name over a column of numbers."""
UNSTABLE = {"static_margin": -1, "Cl_beta": 1, "Cn_beta": -1}
"""Sign that is unstable."""
STABILITY = {"static_margin": "static stability in pitch", "Cl_beta": "dihedral effect",
             "Cn_beta": "weathercock"}  # fmt: skip
NOT_THERE = "-"
"""Stands where there is no number, or no key; a line below says why."""
NO_NUMBER = "one of both has no such speed, flight, section or tips"
GROWTH = {"pitch_growth_1_s": "Pitch", "lateral_growth_1_s": "Roll and yaw"}


def compare_table(comparison: Comparison, *, full: bool = False) -> str:
    """The answer of ``foldspan compare``, within 80 columns where names are short.

    Parameters
    ----------
    full : with all keys that differ, every entry's own ±, and the assumptions
    """
    first, *others = comparison.entries
    state = comparison.state
    title = f"{joined([one.name for one in others])} against {first.name}"
    answer = flown_or_not(comparison)
    answer += compare_answer(comparison)
    blocks = [_keys(comparison, full=full), _differences(comparison, full=full)]
    lacks = [f"{name}: {said}" for name, words in comparison.missing.items() for said in words]
    if lacks:
        blocks.append("Not compared\n" + "\n".join(wrapped(f"- {one}", "  ") for one in lacks))
    rests = (
        f"level flight and roll at {state['airspeed_m_s']:g} m/s and"
        f" {state['density_kg_m3']:g} kg/m^3, the first block at {state['alpha_deg']:g} deg; "
        + "; ".join(one for one in comparison.assumptions if "lattice" in one.partition(":")[0])
    )
    more = ["\n".join(wrapped(f"- {line}", "  ") for line in comparison.assumptions)]
    more.append(_own(comparison))
    more[0] = f"Assumed\n{more[0]}"
    return framed(title, answer, blocks, comparison.findings, rests, more[::-1] if full else None)


def flown_or_not(comparison: Comparison) -> list[str]:
    """Entries that do not fly the mission that was asked for."""
    return [
        f"{one.entry}: {'' if one.cannot else 'whether it can fly the mission is not known: '}"
        f"{one.why}."
        for one in comparison.not_flown
    ]


def compare_answer(comparison: Comparison) -> list[str]:
    """What grows, and changes of stability, first; then what is more or less.

    Of several others, number by number: who has more and who less, sizes in the table.
    """
    two = len(comparison.entries) == 2
    return [
        *_growth(comparison),
        *_stability(comparison),
        *(differences_said(comparison) if two else _who_has_more(comparison)),
    ]


def _who_has_more(comparison: Comparison) -> list[str]:
    """Entries by what they have more or less of than the first, number by number."""
    names, said = [entry.name for entry in comparison.entries], []
    for one in comparison.numbers:
        if one.key not in HEADLINES:
            continue
        ways: dict[str, list[str]] = {
            one.kind.more: [], one.kind.less: [], "the same": [], "no difference known": []
        }  # fmt: skip
        for place, (name, apart) in enumerate(zip(names[1:], one.differences[1:], strict=True), 1):
            if apart.sign:
                ways[one.kind.more if apart.sign > 0 else one.kind.less].append(
                    f"{name}{_share(one, place)}"
                )
            elif apart.half_width is not None:
                ways["the same" if apart.sign == 0 else "no difference known"].append(name)
        parts = [f"{way} in {joined(found)}" for way, found in ways.items() if found]
        if parts:
            said.append(f"{one.kind.words.capitalize()}, against {names[0]}: {'; '.join(parts)}.")
    return said


def differences_said(comparison: Comparison) -> list[str]:
    """What the second entry has more or less of, then what does not differ."""
    first, name = (entry.name for entry in comparison.entries[:2])
    changed, same, alike, said = [], [], [], []
    for one in comparison.numbers:
        if one.key in HEADLINES:
            words = _change(one)
            if words:
                changed.append(words)
            elif one.differences[1] == Known(0.0, 0.0):
                alike.append(one.kind.words)
            elif one.differences[1].half_width is not None:
                same.append(one.kind.words)
    if changed:
        said.append(f"{name} against {first}: {'; '.join(changed)}.")
    if same:
        said.append(f"{name}: no difference that is known in {joined(same)}.")
    if alike:
        said.append(f"{name}: the same {joined(alike)}.")
    return said


def _growth(comparison: Comparison) -> list[str]:
    """How soon the fastest motion doubles in every entry, where it is not known to decay in all."""
    said = []
    for one in comparison.numbers:
        if one.key not in GROWTH or all(value.sign == -1 for value in one.values):
            continue
        found = _by_words(comparison, [f"{_doubling(value)} in" for value in one.values])
        if len(one.values) == 2 and not one.differences[1].sign and _same_sign(one):
            first, other = (entry.name for entry in comparison.entries)
            found = f"{_doubling(one.values[0])} in {first}, no difference known from {other}"
        said.append(f"{GROWTH[one.key]}, level flight, controls fixed: {found}.")
    return said


def _same_sign(one: ComparedNumber) -> bool:
    return len({value.sign for value in one.values}) == 1


def _by_words(
    comparison: Comparison, words: Sequence[str], notes: Sequence[str] | None = None
) -> str:
    """Entries by what is said of them, in their order, a note behind each name."""
    names = [entry.name for entry in comparison.entries]
    noted = [f"{name}{note}" for name, note in zip(names, notes or [""] * len(names), strict=True)]
    alike = {said: [n for n, own in zip(noted, words, strict=True) if own == said]
             for said in dict.fromkeys(words)}  # fmt: skip
    between = ", " if len(names) == 2 else "; "
    return between.join(f"{said} {joined(found)}" for said, found in alike.items())


def _doubling(growth: Known) -> str:
    if growth.value is None:
        return "not known"
    if growth.sign == 1:
        time = log(2.0) / growth.value
        wide = growth.half_width
        return f"doubles in {with_error(time, wide and time * wide / growth.value)} s"
    return "decays" if growth.sign == -1 else "not known whether it grows"


def _stability(comparison: Comparison) -> list[str]:
    """A sign that is not the same in all entries."""
    said = []
    for one in comparison.numbers:
        if one.key in UNSTABLE and not _same_sign(one):
            signs = [f"{_stable(one.key, value)} in" for value in one.values]
            bodies = [_body(one, i) for i in range(len(one.values))]
            found = _by_words(comparison, signs, bodies)
            said.append(f"{STABILITY[one.key].capitalize()}: {found}.")
    return said


def _body(one: ComparedNumber, place: int) -> str:
    """How large a body, left out, turns what is stable; empty elsewhere."""
    volume = None if one.body_turns_m3 is None else one.body_turns_m3[place]
    return "" if volume is None else f" (without a round body of more than {litres(volume)})"


def _stable(key: str, known: Known) -> str:
    words = {
        UNSTABLE[key]: "unstable", -UNSTABLE[key]: "stable", 0: "neutral", None: SIGN_NOT_KNOWN,
    }  # fmt: skip
    return words[known.sign]


def _change(one: ComparedNumber) -> str | None:
    """The difference of the second entry in words where its sign is known."""
    apart = one.differences[1]
    if not apart.sign or apart.value is None:
        return None
    unit = "" if one.kind.unit == "1" else f" {one.kind.unit}"
    size = with_error(abs(apart.value), apart.half_width)
    way = one.kind.more if apart.sign > 0 else one.kind.less
    return f"{one.kind.words} {size}{unit}{_share(one, 1)} {way}"


def _share(one: ComparedNumber, place: int) -> str:
    """A difference in per cent of the first entry's number; empty where that says nothing."""
    apart, before = one.differences[place].value, one.values[0].value
    if one.key not in SHARED or not before or apart is None:
        return ""
    percent = 100.0 * abs(apart / before)
    return f" ({percent:.2g} %)" if percent < 99.5 else f" ({percent:.0f} %)"


def _keys(comparison: Comparison, *, full: bool) -> str:
    """What differs in the files."""
    if not comparison.keys:
        ways = {(one.fold_left_deg, one.fold_right_deg) for one in comparison.entries}
        only = "only the folds differ" if len(ways) > 1 else "the folds are the same too"
        return f"The files describe the same craft; {only}."
    shown = comparison.keys if full else comparison.keys[:MOST_KEYS]
    crafts = _crafts(comparison)
    rows = [[one.key, *(_cell(one.values[i]) for i in crafts)] for one in shown]
    heads = ["differs in the files", *(cut(name, WIDEST) for name in crafts.values())]
    more = len(comparison.keys) - len(shown)
    text = fitted(heads, rows)
    if any(cell == NOT_THERE for row in rows for cell in row):
        text += f"\n{NOT_THERE}: not in the file"
    return text + (f"\n... and {more} more keys: --full" if more else "")


def _crafts(comparison: Comparison) -> dict[int, str]:
    """Names by place of the first entry of every craft; those of one differ in their fold alone."""
    values = list(zip(*(one.values for one in comparison.keys), strict=True))
    found: dict[int, str] = {}
    for i, entry in enumerate(comparison.entries):
        same = [j for j in found if values[j] == values[i]]
        if not same:
            found[i] = entry.name
            continue
        first = comparison.entries[same[0]].name.rpartition(", ")[0]
        if first == entry.name.rpartition(", ")[0] != "":
            found[same[0]] = first
    return found


def _cell(value: Any) -> str:
    if value is None:
        return NOT_THERE
    return cut(f"{value:g}" if isinstance(value, float) else str(value), WIDEST)


def _differences(comparison: Comparison, *, full: bool) -> str:
    """The first entry, and what every other has more than it (less where negative)."""
    first, *others = (_short(entry, full=full) for entry in comparison.entries)
    heads = ["", first, *others]
    rows: list[list[str]] = []
    group: Group | None = None
    for one in comparison.numbers:
        cells = [one.values[0], *one.differences[1:]]
        if all(cell.value is None for cell in cells):
            continue
        if one.kind.group is not group:
            group = one.kind.group
            rows.append([group.value] + [""] * (len(heads) - 1))
        rows.append([f"  {_with_unit(one)}", *(_shown(known) for known in cells)])
    than = f"{comparison.entries[0].name}, and what others have more of it (negative: less)"
    text = f"{wrapped(than)}\n{fitted(heads, rows)}"
    if any(NOT_THERE in row[1:] for row in rows):
        why = NO_NUMBER
        if comparison.missing:
            why += ", or lacks a block (see Not compared)"
        if comparison.not_flown:
            why += ", or does not fly the mission (see the answer)"
        text += f"\n{wrapped(f'{NOT_THERE}: {why}')}"
    return text


def _with_unit(one: ComparedNumber) -> str:
    return one.kind.words + ("" if one.kind.unit == "1" else f", {one.kind.unit}")


def _shown(known: Known) -> str:
    """A number with its ±; words where that is not known."""
    unknown = known.value is not None and known.half_width is None
    return with_error(known.value, known.half_width) + (" ± not known" if unknown else "")


def _short(entry: Named, *, full: bool) -> str:
    return entry.name if full else cut(entry.name, HEAD)


def _own(comparison: Comparison) -> str:
    """Every entry's numbers with their own ±, and the reference sizes."""
    words = "Every entry by itself"
    heads = ["", *(one.name for one in comparison.entries)]
    rows = [
        [_with_unit(one), *(with_error(v.value, v.half_width) for v in one.values)]
        for one in comparison.numbers
    ]
    sizes = (("area, m^2", "area_m2"), ("span, m", "span_m"), ("chord, m", "chord_m"))
    rows += [
        [f"reference {words}", *(number(getattr(one, key)) for one in comparison.entries)]
        for words, key in sizes
    ]
    if any(NOT_THERE in row[1:] for row in rows):
        words += f"; {NOT_THERE}: it has no such number"
    return f"{words}\n{fitted(heads, rows)}"
