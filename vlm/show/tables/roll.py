"""The tables of a study of rolling by folding, for people."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

from vlm.show.sentences import alike_pairs, open_roll, roll_faults
from vlm.show.text.answer import framed, listed, wrapped
from vlm.show.text.layout import fitted, is_known, number, section, short, table, with_error
from vlm.show.words import slipstream_words

if TYPE_CHECKING:
    from vlm.study.roll.results import (
        AirspeedRow,
        Authority,
        BankHistory,
        Equal,
        HistoryRow,
        Known,
        PairRow,
        RollStudy,
        Rotors,
    )

WAYS = {
    "sideslip held at zero": "held",
    "the same, swing of the tips left out": "held, no swing",
    "free in yaw": "free",
    "rotors aid yaw": "aided",
}
LEAST_YAW = (
    "least yaw: of pairs whose tips swing at most a third more than the shortest way to that"
    " moment; with more swing others may yaw less"
)


def roll_table(study: "RollStudy", *, full: bool = False) -> str:
    """A ``roll`` study as text: the answer, pairs, authority and bank; all of it with ``full``."""
    state = study.state
    title = (
        f"{study.title}: roll by folding from {state['base_fold_deg']:g} deg at"
        f" {state['airspeed_m_s']:g} m/s"
    )
    blocks = [
        section("Pairs, lift held; folds in deg, moments in N m, + starboard down, nose to stbd",
                _pairs(study)).rstrip(),
        section("Authority against airspeed, lift held; strongest: the pair above at each",
                _airspeeds(study.airspeeds)).rstrip(),
        section("Bank after the command", _history(study.bank_history)).rstrip(),
    ]  # fmt: skip
    rests = (
        f"{study.modelling}, {state['density_kg_m3']:g} kg/m^3; ± is the lattice's error and"
        " what the model leaves open, past stall all that sections change"
    )
    return framed(title, _answer(study), blocks, study.findings, rests,
                  _full(study) if full else None)  # fmt: skip


def _answer(study: "RollStudy") -> list[str]:
    found = roll_faults(study)
    found += slipstream_words(study.slipstream)
    pair = study.strongest
    if pair is None:
        return [*found, "No pair of folds can be flown."]
    found.append(
        f"Strongest: {with_error(pair.rolling.value, pair.rolling.half_width)} N m {pair.sense}"
        f" with port {number(pair.left_deg, 3)}, starboard {number(pair.right_deg, 3)}"
        f" deg{alike_pairs(study, ' deg')}; steady"
        f" {with_error(*pair.roll_rate)} deg/s; yaw {pair.yaw}."
    )
    if not study.pure_roll_pairs:
        found.append("No roll without lift change leaves this base fold.")
    unknown = open_roll(study)
    if unknown:
        found.append(f"Not known {unknown}.")
    return found


def _pairs(study: "RollStudy") -> str:
    heads = ["", "port", "stbd", "rolling", "yawing", "yaw", "deg/s"]
    named: list[tuple[str, PairRow]] = []
    if study.strongest is not None:
        named.append(("strongest", study.strongest))
    named += [("same lift", pair) for pair in study.pure_roll_pairs]
    named += [("least yaw", pair) for pair in study.least_yaw_pairs]
    text = fitted(heads, [_pair(name, pair) for name, pair in named], repeated=3)
    return f"{text}\n{wrapped(LEAST_YAW)}" if study.least_yaw_pairs else text


def _pair(name: str, pair: "PairRow") -> list[str]:
    return [
        name,
        _fold(pair.left_deg),
        _fold(pair.right_deg),
        with_error(pair.rolling.value, pair.rolling.half_width),
        with_error(pair.yawing.value, pair.yawing.half_width),
        pair.yaw,
        with_error(*pair.roll_rate),
    ]


def _fold(fold_deg: float) -> str:
    """A fold with one decimal, and no sign before a zero."""
    return f"{fold_deg:z.1f}"


def _airspeeds(rows: "Sequence[AirspeedRow]") -> str:
    first = [
        [
            f"{row.airspeed_m_s:g}",
            *_authority(row.strongest, row.reason or row.not_flown.get("strongest")),
            _rate(row.strongest),
        ]
        for row in rows
    ]
    tables = [fitted(["m/s", "strongest, N m", "", "yaw, N m", "", "deg/s"], first)]
    known = [row for row in rows if row.reason is None]
    for name in ("both_apart_20_deg", "port_down_20_deg"):
        words = name.removesuffix("_deg").replace("_", " ")
        heads = ["m/s", f"{words}, N m", "", "yaw, N m", ""]
        lines = [
            [f"{row.airspeed_m_s:g}", *_authority(getattr(row, name), row.not_flown.get(name))]
            for row in known
        ]
        why = {row.not_flown.get(name) for row in known}
        if len(known) > 1 and len(why) == 1 and None not in why:
            tables.append(f"{words} deg, at every airspeed: {lines[0][1]}")
        elif lines:
            tables.append(fitted(heads, lines))
    return "\n\n".join(tables)


def _authority(at: "Authority | None", reason: str | None) -> list[str]:
    """Rolling moment, its sense, yaw with it across the direction of flight, and what that does."""
    if at is None:
        return ["-" if reason is None else short(reason), "", "", ""]
    return [
        with_error(at.rolling_moment_N_m, at.half_width_N_m),
        at.sense.removeprefix("to "),
        with_error(at.yawing_moment_N_m, at.yawing_half_width_N_m),
        at.yaw,
    ]


def _rate(at: "Authority | None") -> str:
    return "-" if at is None else with_error(at.roll_rate_deg_s, at.roll_rate_half_width_deg_s)


def _history(history: "BankHistory") -> str:
    if history.reason is not None or history.histories is None:
        return f"none: {history.reason}"
    first = (
        f"from {history.from_deg:g} to port {number(history.left_deg, 3)}, starboard"
        f" {number(history.right_deg, 3)} deg in {number(history.folding_time_s, 3)} s"
    )
    heads = ["yaw", "ends", "30 deg, s", "60, s", "wrong", "deg/s", "slip", ""]
    rows = [_history_row(row) for row in history.histories]
    note = (
        "wrong: furthest bank the other way first, deg; deg/s: peak roll rate on the way; slip:"
        " peak sideslip, deg; the ± of these is not known"
    )
    return f"{first}\n{table(heads, rows, left=2)}\n{wrapped(note)}"


def _history_row(row: "HistoryRow") -> list[str]:
    more = ">" if row.departs else ""
    words = "cut off" if row.departs else "turn"
    ending = f"{words} {number(row.cut_off_at_s, 3)} s" if row.cut_off else ""
    if row.reverses:
        ending = f"reversed {ending}".strip()
    return [
        WAYS.get(row.name, row.name),
        row.ends.removeprefix("to "),
        *(number(row.time_to_s[bank], 3) for bank in ("30", "60")),
        number(row.first_the_wrong_way_deg, 2) if row.first_the_wrong_way_deg > 5e-3 else "0",
        more + number(row.peak_roll_rate_deg_s, 3),
        more + number(row.peak_sideslip_deg, 3),
        ending,
    ]


def _full(study: "RollStudy") -> list[str]:
    base, reference = study.base, study.reference
    parts = [
        f"base: angle of attack {number(base['alpha_deg'], 3)} deg, thrust"
        f" {number(base['thrust_N'], 3)} N ({study.modelling}), {number(base['mass_kg'])} kg,"
        f" stall margin {number(base['stall_margin_deg'], 2)} deg\nreference area"
        f" {number(reference['area_m2'])} m^2, span {number(reference['span_m'])} m",
        section("More of the pairs", _more_of_pairs(study)).rstrip(),
        section("Commands from the base", _commands(study)).rstrip(),
    ]
    if study.rotors is not None:
        parts.append(section("Against the rotors", rotor_lines(study.rotors)).rstrip())
    aid = study.bank_history.yaw_aid
    if aid is not None:
        limits = f"{number(aid.lowest_N_m, 3)} to {number(aid.highest_N_m, 3)} N m"
        parts.append(
            f"yaw aid: {number(aid.stiffness_N_m_rad, 3)} N m/rad,"
            f" {number(aid.damping_N_m_s, 3)} N m s; rotors give {limits} (dash: no limit known)"
        )
    return [*parts, listed("Assumed", study.assumptions)]


def _more_of_pairs(study: "RollStudy") -> str:
    heads = ["port [deg]", "starboard [deg]", "swing [deg]", "Cl", "Cn", "pitching [N m]",
             "lift change [N]", "alpha [deg]", "stall margin [deg]"]  # fmt: skip
    keys = ("pitching_moment_N_m", "lift_change_N", "alpha_deg", "stall_margin_deg")
    first = [] if study.strongest is None else [study.strongest]
    rows = [
        [
            _fold(pair.left_deg),
            _fold(pair.right_deg),
            f"{pair.travel_deg:.0f}",
            _coefficient(pair.values["Cl"], pair.rolling),
            _coefficient(pair.values["Cn"], pair.yawing),
            *(number(pair.values[key], 3) for key in keys),
        ]
        for pair in [*first, *study.pure_roll_pairs, *study.least_yaw_pairs]
    ]
    return table(heads, rows, left=0)


def _coefficient(value: float, moment: "Known") -> str:
    """A coefficient with the ± of the moment that it stands for."""
    half = abs(value / moment.value) * moment.half_width if moment.value else None
    return with_error(value, half)


def _commands(study: "RollStudy") -> str:
    heads = ["command", "slope [N m/deg]", "linear to [deg]", "turns back at [deg]",
             "reverses at [deg]"]  # fmt: skip
    rows = [
        [
            command.name,
            number(command.slope_N_m_deg, 3),
            " to ".join(f"{v:g}" for v in command.linear_to_deg),
            ", ".join(number(v, 3) for v in command.turns_at_deg) or "-",
            _reverses(command.reverses_at_deg, command.reverses_half_width_deg),
        ]
        for command in study.commands
    ]
    return table(heads, rows)


def _reverses(commands_deg: Sequence[float], half_widths: Sequence[float]) -> str:
    """Commands at which the moment changes its sign, with their ±."""
    shown = [
        with_error(at, width) if is_known(width) else f"{number(at, 3)} ± not known"
        for at, width in zip(commands_deg, half_widths, strict=True)
    ]
    return ", ".join(shown) or "-"


def rotor_lines(rotors: "Rotors") -> str:
    """What the rotors can do in roll, and where the tips match it."""
    if rotors.reason is not None:
        return f"none: {rotors.reason}"
    equal = ", ".join(_equal(one) for one in rotors.equal or ())
    heads = ["m/s", "body, deg", "thrust, N", "tips: roll", "rotors: roll", "tips: yaw",
             "rotors: yaw", "stopped by"]  # fmt: skip
    found = rotors.airspeeds or ()
    rows = [
        [
            *(number(v, 3) for v in (row.airspeed_m_s, row.body_angle_deg, row.thrust_N)),
            with_error(row.tips_N_m, row.tips_half_width_N_m),
            with_error(row.rotors_N_m, row.rotors_half_width_N_m),
            with_error(row.tips_yawing_N_m, row.tips_yawing_half_width_N_m),
            with_error(row.rotors_yawing_N_m, row.rotors_yawing_half_width_N_m),
            row.rotors_stopped_by,
        ]
        for row in found[:: max(1, len(found) // 10)]
    ]  # fmt: skip
    said = (
        f"tips to port {number(rotors.left_deg, 3)}, starboard {number(rotors.right_deg, 3)} deg;"
        f" equal {equal or 'at no airspeed'}; {rotors.words}"
    )
    return (
        f"{wrapped(said)}\n"
        f"thrust and angle: {rotors.modelling}; moments in body axes, N m; rotors either way,\n"
        "without ± where a thrust that the file states ends it; dash: the trim passes a\n"
        "limit of a rotor\n"
        f"{fitted(heads, rows, left=0, repeated=1)}"
    )


def _equal(one: "Equal") -> str:
    """Where tips and rotors are equal, and between which airspeeds that surely lies."""
    at = "" if one.airspeed_m_s is None else f"at {number(one.airspeed_m_s, 2)} m/s, "
    ends = [("above", one.above_m_s), ("below", one.below_m_s)]
    surely = " and ".join(f"{word} {end:.3g} m/s" for word, end in ends if end is not None)
    return f"{at}surely {surely}" if surely else f"{at}where is not known"
