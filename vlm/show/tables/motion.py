"""The tables of a motion in time, for people."""

import math
from typing import TYPE_CHECKING

from vlm.plain import size_words
from vlm.show.text.answer import framed, wrapped
from vlm.show.text.layout import number, section, table, with_error
from vlm.sides import Side
from vlm.study.motion.judging import BEYOND_ROTORS, CUT_OFF_WITHIN, START_BEYOND, START_NOT_HELD
from vlm.study.motion.settling import UPSET_GROWS
from vlm.study.point.fin_validity import OUTSIDE_TABLES

if TYPE_CHECKING:
    from vlm.study.motion.results import LimitRow, MotionStudy, PeakRow, SideRow

LEAST = 5e-4
"""Below this a value is that of rounding, in whatever unit it is shown."""
PEAKS = {
    "bank_deg": "bank, starboard down, deg",
    "height_m": "lowest height, from the start, m",
    "beta_deg": "sideslip, wind from starboard, deg",
    "alpha_deg": "angle of attack, deg",
    "load_factor": "load factor",
    "roll_rate_deg_s": "roll rate, deg/s",
    "stall_margin_deg": "lowest margin to the stall, deg",
    "stalled_share": "stalled share of the wings' area",
}
KEPT = {True: "kept", False: "broken", None: "not known"}
WIDTHS = {
    True: "± is the lattice's error and what wake and rotors leave open",
    False: "± is the lattice's error and what the wake leaves open",
}
"""By whether rotors answer the air."""
LEFT_OUT = (
    "elastic wings, a law with delay or noise, a gust that differs along the span. Wing-borne"
    " flight only."
)


def motion_table(study: "MotionStudy", *, full: bool = False) -> str:
    """A motion as text: the answer, the sides, peaks and limits; all of it with ``full``."""
    state = study.state
    title = f"{study.title}: {study.scenario} at {state['airspeed_m_s']:g} m/s"
    blocks = [
        section("Tips", _sides(study.sides)).rstrip(),
        section("Largest either way, and when", _peaks(study, full)).rstrip(),
        section("Limits", _limits(study)).rstrip(),
    ]
    lag = study.modelling["lag"]
    miss = 100.0 * study.table_miss["force"]
    known = any(not math.isnan(row.half_width) for row in study.peaks)
    rests = (
        f"{'wing with sections' if study.modelling['sections'] else 'inviscid wing'},"
        f" {state['density_kg_m3']:g} kg/m^3, {study.modelling['friction']} friction of the worm,"
        f" {'quasi-steady air' if lag is None else 'air with lag'};"
        f" {WIDTHS[study.modelling['rotors_answer']] if known else 'no error was worked out'};"
        f" table of the air off by {size_words(miss, 3)} % of the force between its points"
    )
    more = None
    if full:
        more = [
            section(
                "What it rests on",
                "\n".join(wrapped(f"- {one}", "  ") for one in study.assumptions),
            ).rstrip()
        ]
    blocks.append(wrapped(_left_out(study)))
    return framed(title, motion_answer(study), blocks, study.findings, rests, more)


def _left_out(study: "MotionStudy") -> str:
    modelling = study.modelling
    parts = {
        "stall and profile drag": modelling["sections"],
        "slipstream": modelling["slipstream"],
        "apparent mass": modelling["apparent_mass"],
        "the rotors' answer to the air": modelling["rotors_answer"],
        "gyroscopic moments of the rotors": modelling["gyroscopic"],
    }
    missing = [name for name, known in parts.items() if not known]
    return "Not in it: " + ", ".join([*missing, LEFT_OUT])


def motion_answer(study: "MotionStudy") -> list[str]:
    """How it ends, whether it stays within limits, how long the tips take; in sentences."""
    found = []
    if study.cut_off:
        found.append(
            f"Cut off at {number(study.cut_off_at_s, 3)} s of {study.state['duration_s']:g} s:"
            f" {study.cut_off}. What comes then is not known."
        )
    verdicts = {
        True: f"Stays within the limits below for its {study.state['duration_s']:g} s.",
        False: "Does not stay within limits.",
        None: "Whether it stays within limits is not known: " + _why_not(study),
    }
    found.append(verdicts[study.within_limits])
    found += [
        f"The {row.side.words} tips fold from {number(row.start_deg, 3)} to"
        f" {number(row.commanded_deg, 3)} deg in {_said(row.time_s, row.time_half_width_s)} s."
        for row in study.sides
        if row.time_s and row.jammed_at_s is None
    ]
    found.append(_end(study))
    if study.rotors_limited_s > 0.005:
        found.append(
            f"The law asks the rotors for more than they can give during"
            f" {number(study.rotors_limited_s, 2)} s."
        )
    return found


def _end(study: "MotionStudy") -> str:
    """Where it ends; where a flight is cut off, its last values have no ±."""
    height = study.peak("height_m")
    bank = _said(study.bank_end_deg, study.bank_end_half_width_deg)
    end = _said(study.height_end_m, study.height_end_half_width_m)
    open_ = " (± not known)" if _is_open(study) and "±" not in bank + end else ""
    lowest = _with_error(height.value, height.half_width)
    if _is_open(study) and math.isnan(height.half_width):
        lowest = f"{number(height.value, 3)} m (± not known)"
    else:
        lowest += " m"
    return f"Bank at the end {bank} deg, height at the end {end} m{open_}, lowest {lowest}."


def _is_open(study: "MotionStudy") -> bool:
    """Whether a flight is cut off, so that some ± is not known; not where none was worked out."""
    return study.known_until_s is not None


def _said(value: float | None, half_width: float | None) -> str:
    if value is None or half_width is None or math.isnan(half_width):
        return _alone(value)
    return _with_error(value, half_width)


def _alone(value: float | None) -> str:
    """A value without its ±; 0 where it is that of rounding."""
    return "0" if value is not None and abs(value) < LEAST else number(value, 3)


def _why_not(study: "MotionStudy") -> str:
    if any(finding.code in (START_BEYOND, START_NOT_HELD) for finding in study.findings):
        return "the rotors cannot hold the steady flight that it starts from."
    if any(finding.code == OUTSIDE_TABLES for finding in study.findings):
        return "the tables of its loads do not hold in this sideslip."
    if any(finding.code == BEYOND_ROTORS for finding in study.findings):
        return "a rotor gives more than it can at the airspeed flown."
    if any(finding.code == CUT_OFF_WITHIN for finding in study.findings):
        return "with loads and rotors within their error the history is cut off."
    if any(math.isnan(row.half_width) for row in study.limits):
        return "no error was worked out."
    if any(finding.code == UPSET_GROWS for finding in study.findings):
        return "it is flown in the plane of symmetry, and a little sideslip grows."
    return "an error reaches across one."


def _sides(rows: "tuple[SideRow, ...]") -> str:
    heads = ["side", "from, deg", "to, deg", "end, deg", "time, s", "peak, deg/s"]
    events = any(_happens(row) for row in rows)
    text = table(
        [*heads, ""] if events else heads,
        [
            [
                row.side.words,
                number(row.start_deg, 3),
                number(row.commanded_deg, 3),
                number(row.end_deg, 3),
                "-" if row.time_s is None else _said(row.time_s, row.time_half_width_s),
                number(row.peak_rate_deg_s, 3),
                *([_happens(row)] if events else []),
            ]
            for row in rows
        ],
    )
    note = "peak: largest folding speed"
    if any(row.time_s is not None for row in rows):
        note = "time: from the command until the worm stays at its target; " + note
    if any(row.time_s is None for row in rows):
        note += "; -: not commanded, or it does not arrive"
    return f"{text}\n{wrapped(note)}"


def _happens(row: "SideRow") -> str:
    if row.jammed_at_s is not None:
        return f"jams at {number(row.jammed_at_s, 3)} s"
    if row.let_go_at_s is not None:
        return f"let go at {number(row.let_go_at_s, 3)} s"
    if row.commanded_by == "schedule":
        return "follows"
    if row.time_s is None and row.commanded_by == "command":
        return "held" if row.commanded_deg == row.start_deg else "does not arrive"
    return ""


def name_of(key: str) -> str:
    """Words of a peak's key."""
    if key in PEAKS:
        return PEAKS[key]
    words = {
        "hinge_": "hinge moment, {}, N m",
        "worm_torque_": "worm torque of one servo, {}, N m",
        "current_": "current, {}, A",
    }
    for lead, text in words.items():
        if key.startswith(lead):
            where = key.removeprefix(lead).removesuffix("_N_m").removesuffix("_A")
            for side in Side:
                where = where.replace(side, side.words)
            return text.format(where.replace("_", " "))
    return key


def _peaks(study: "MotionStudy", full: bool) -> str:
    shown = [row for row in study.peaks if full or not row.name.startswith("current_")]
    text = table(
        ["", "value", "at, s"],
        [[name_of(row.name), _open_or_with_error(study, row), f"{row.at_s:.2f}"] for row in shown],
    )
    until = study.known_until_s
    if until is None:
        return text
    one = "this flight" if until == study.cut_off_at_s else "a flight within the errors"
    note = (
        f"{one} is cut off at {number(until, 3)} s; ± not known: the value is reached later, where"
        " there is nothing to compare it with, or flights within the errors have gone quite another"
        " way"
    )
    return f"{text}\n{wrapped(note)}"


def _open_or_with_error(study: "MotionStudy", row: "PeakRow | LimitRow") -> str:
    if _is_open(study) and math.isnan(row.half_width):
        return f"{_alone(row.value)} ± not known"
    return _with_error(row.value, row.half_width)


def _with_error(value: float, half_width: float) -> str:
    if abs(value) < LEAST and not half_width > LEAST:
        return "0"
    return with_error(value, max(half_width, 1e-3) if half_width == half_width else half_width)


def _limits(study: "MotionStudy") -> str:
    kept = KEPT | ({True: "kept so far"} if study.cut_off or _is_open(study) else {})
    return table(
        ["", "worst", "limit", "at, s", ""],
        [
            [
                row.name.replace("left", "port").replace("right", "starboard"),
                _open_or_with_error(study, row),
                f"{number(row.limit, 3)}{'' if row.unit == '1' else ' ' + row.unit}",
                f"{row.at_s:.2f}",
                kept[row.kept],
            ]
            for row in study.limits
        ],
    )
