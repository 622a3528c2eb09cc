"""The tables of a study of hinge, worm gear and servo, for people."""

from collections.abc import Callable, Mapping, Sequence

from vlm.show.airspeed_limits import limit_lines
from vlm.show.sentences import (
    asked_gust_sentence,
    gust_sentence,
    hinge_sentence,
    root_sentence,
)
from vlm.show.tables.hinge_gusts import eased_table, gusts_table
from vlm.show.tables.hinge_structure import (
    backlash_table,
    divergence_table,
    is_on_the_way,
    largest_words,
    wings_table,
)
from vlm.show.text.answer import framed, listed
from vlm.show.text.layout import is_known, number, section, short, table, with_error
from vlm.show.words import slipstream_words, tip_words
from vlm.study.hinge.results import (
    BEYOND,
    TO_LIMIT,
    HeldMoment,
    HingeParts,
    HingeStudy,
    HoverRow,
    JammedRow,
    MomentRow,
    MoveRow,
    Worm,
)
from vlm.verdicts import SIGN_NOT_KNOWN

PARTS: Mapping[str, Callable[[HingeParts], float]] = {
    "air": lambda hinge: hinge.air_N_m,
    "weight": lambda hinge: hinge.weight_N_m,
    "pull-up": lambda hinge: hinge.pull_up_N_m,
    "air in roll": lambda hinge: hinge.roll_air_N_m,
    "centrifugal": lambda hinge: hinge.roll_rate_N_m,
    "roll acceleration": lambda hinge: hinge.roll_acceleration_N_m,
    "steady sum": lambda hinge: hinge.steady_N_m,
    "worst in roll": lambda hinge: hinge.worst_N_m,
}
"""Parts of a hinge moment by what people call them."""
SWING_NOTE = (
    "worst: at most, with the undamped swing of a tip on its gear as the gust is\n"
    "there at once: the rise of the steady moment from level flight, once more"
)


def hinge_table(study: HingeStudy, *, full: bool = False) -> str:
    """A ``hinge`` study as text: the answer and two tables; all of it with ``full``."""
    state = study.state
    title = f"{study.title}: hinge and drive at {state['airspeed_m_s']:g} m/s"
    blocks = [
        section("Highest moment about a hinge, N m; positive raises the tip",
                _greatest(study.moments, study.stall_words)).rstrip(),
        *_in_gust(study),
        section(f"Sudden upward gust to load factor {state['load_factor_limit']:g}, m/s",
                gusts_table(study.gusts, study.stall_words)).rstrip(),
        section("Folding in level flight; highest friction", _short_moves(study.folding)).rstrip(),
    ]  # fmt: skip
    rests = (
        f"{study.modelling}, {state['density_kg_m3']:g} kg/m^3; ± is the lattice's error and"
        " what the model leaves open, past stall all that sections change"
    )
    return framed(title, _answer(study), blocks, study.findings, rests,
                  _full(study) if full else None)  # fmt: skip


def _answer(study: HingeStudy) -> list[str]:
    worm = study.worm
    jammed: dict[bool | None, list[str]] = {True: [], None: [], False: []}
    for row in study.jammed:
        if row.roll is not None:
            beyond = None if row.roll.held == SIGN_NOT_KNOWN else row.roll.held == BEYOND
            jammed[beyond].append(_jammed(row, row.roll))
    found = [
        *slipstream_words(study.slipstream),
        *jammed[True],
        *jammed[None],
        hinge_sentence(study).replace("°", " deg"),
        gust_sentence(study).replace("°", " deg"),
        asked_gust_sentence(study).replace("°", " deg"),
        f"Worm, {worm.lubrication}: {worm.as_flown.verdict} (lowest friction"
        f" {number(worm.as_flown.margin, 3)} times what locks). {worm.caution.capitalize()}.",
        *limit_lines(study.limits).splitlines(),
        root_sentence(study).replace("°", " deg"),
        *jammed[False],
    ]
    return [one for one in found if one]


def _jammed(row: JammedRow, roll: HeldMoment) -> str:
    return (
        f"Port tips jammed at {row.jammed_left_deg:g}, starboard at {row.right_deg:g}"
        f" deg: roll {with_error(roll.moment_N_m, roll.half_width_N_m)} N m,"
        f" {_held(roll)}; fold the other side alike."
    )


def _held(axis: HeldMoment) -> str:
    can, held = axis.rotors_N_m, axis.held
    if held == SIGN_NOT_KNOWN:
        held = "not known whether the rotors hold it"
    width = axis.rotors_half_width_N_m
    most = with_error(can, width) if is_known(width) else number(can, 2)
    return f"{held} ({most} N m)" if is_known(can) else held


def _in_gust(study: HingeStudy) -> list[str]:
    """The highest moments at each fold in the gust asked for; none where none was."""
    if not study.gust_moments:
        return []
    speed = next(row.asked.gust_m_s for row in study.gusts if row.asked is not None)
    title = f"The same in a sudden upward gust of {speed:g} m/s"
    return [
        section(title, f"{_greatest(study.gust_moments, study.stall_words)}\n{SWING_NOTE}").rstrip()
    ]


def _greatest(rows: Sequence[MomentRow], stall: str) -> str:
    """The row of the largest worst moment at each fold; stall as :func:`factor_words`."""
    heads = ["fold", "at m/s", "load factor", "hinge", "steady", "worst", "of limit"]
    lines, on_the_way = [], False
    for fold in dict.fromkeys(row.fold_deg for row in rows):
        own = [row for row in rows if row.fold_deg == fold and row.reason is None]
        if not own:
            lines.append([f"{fold:.3g}", "too slow", "", "", "", "", ""])
            continue
        row = max(own, key=lambda row: row.hinge().reach_N_m)
        hinge = row.hinge()
        on_the_way |= is_on_the_way(row)
        lines.append(
            [
                f"{fold:.3g}",
                f"{row.airspeed_m_s:g}",
                largest_words(row, stall),
                tip_words(row.most_loaded_hinge or ""),
                number(hinge.steady_N_m, 3),
                with_error(hinge.worst_N_m, hinge.half_width_N_m),
                number(row.share_of_hinge_limit, 2),
            ]
        )
    note = "of limit: the worst moment and its ± together"
    if on_the_way:
        note += "\nload factor: where the moment is largest, of that up to which it is looked for"
    return f"{table(heads, lines, left=0)}\n{note}"


def _short_moves(moves: Sequence[MoveRow]) -> str:
    heads = ["move", "time, s", "peak, N m", "start, N m", "stop, N m", "of hinge limit"]
    lines = []
    for move in moves:
        slow, stop = move.greatest_friction, move.stop
        limit = move.name.endswith(TO_LIMIT)
        name = f"{move.from_deg:g} to {move.to_deg:g}" if limit else move.name
        if slow is None:
            lines.append([name, short(move.reason or ""), "", "", "", ""])
            continue
        stalls = slow.stalls_at_deg
        lines.append(
            [
                name,
                number(slow.time_s, 3) if stalls is None else f"stalls at {stalls:.0f} deg",
                number(slow.peak_torque_N_m, 3),
                number(move.starting_torque_N_m, 3),
                with_error(stop.peak_N_m, stop.half_width_N_m) if stop else "-",
                number(stop.share_of_hinge_limit, 2) if stop else "-",
            ]
        )
    note = (
        "peak and start: servo's torque; stop: steady moment and shock about the hinge\n"
        "of hinge limit: the stop and its ± together"
    )
    if any(line[1] == "too slow" for line in lines):
        note += "\ntoo slow: the wings cannot carry the craft at this airspeed"
    return f"{table(heads, lines)}\n{note}"


def _full(study: HingeStudy) -> list[str]:
    blocks = [
        _head(study),
        section("Worm gear", _worm(study.worm)),
        section("Moment about the most loaded hinge [N m], positive raises the tip",
                _moments(study)),
        section("Upward gust over 12.5 chords that does what the sudden one does, m/s",
                eased_table(study.gusts, study.stall_words)),
        section("Servo", _servo(study.moments)),
        section("Folding, level flight", _folding(study.folding)),
        section("When the worm stops a tip", _stops(study.folding)),
        section("Wing roots", wings_table(study.wings, study.stall_words)),
        section("Roll from backlash", backlash_table(study.backlash)),
        section("Divergence of the hinge", divergence_table(study.divergence)),
        section("Weight of the tips in hover, nose up", _hover(study.hover)),
        section("Port tips jammed", _jams(study.jammed)),
    ]  # fmt: skip
    return [*(block.rstrip() for block in blocks), listed("Assumed", study.assumptions)]


def _stops(moves: Sequence[MoveRow]) -> str:
    heads = ["move", "hinge", "tip speed [deg/s]", "steady [N m]", "shock [N m]", "peak [N m]",
             "share of hinge limit"]  # fmt: skip
    lines = []
    for move in moves:
        stop = move.stop
        if stop is None:
            lines.append([move.name, short(move.reason or "no stiffness")] + [""] * 5)
            continue
        cells = [
            *(number(one, 3) for one in (stop.tip_speed_deg_s, stop.steady_N_m, stop.shock_N_m)),
            with_error(stop.peak_N_m, stop.half_width_N_m),
            number(stop.share_of_hinge_limit, 3),
        ]
        lines.append([move.name, tip_words(stop.hinge), *cells])
    return table(heads, lines, left=2) + "\nshock: speed times the root of stiffness and inertia"


def _hover(rows: Sequence[HoverRow]) -> str:
    heads = ["fold [deg]", "on one servo [N m]"]
    lines = [
        [f"{row.fold_deg:g}", short(row.reason or "") if row.on_servo_N_m is None
         else number(_plain(row.on_servo_N_m), 3)]
        for row in rows
    ]  # fmt: skip
    return table(heads, lines, left=0)


def _plain(value: float) -> float:
    return 0.0 if abs(value) < 1e-9 else value


def _jams(rows: Sequence[JammedRow]) -> str:
    heads = ["port [deg]", "starboard [deg]", "alpha [deg]", "thrust [N]", "roll [N m]", "",
             "yaw [N m]", "", "unheld roll [deg/s]"]  # fmt: skip
    lines = []
    for row in rows:
        place = [f"{row.jammed_left_deg:g}", f"{row.right_deg:g}"]
        if row.roll is None or row.yaw is None:
            lines.append([*place, short(row.reason or "")] + [""] * 6)
            continue
        cells = [*place, number(row.alpha_deg, 3), number(row.thrust_N, 3)]
        for one in (row.roll, row.yaw):
            cells += [with_error(one.moment_N_m, one.half_width_N_m), _held(one)]
        lines.append([*cells, number(row.roll_rate_unheld_deg_s, 3)])
    return table(heads, lines, left=0)


def _head(study: HingeStudy) -> str:
    state = study.state
    return (
        f"{study.title}\n"
        f"{state['airspeed_m_s']:g} m/s, {state['density_kg_m3']:g} kg/m^3; limit load factor"
        f" {state['load_factor_limit']:g}, design roll rate"
        f" {state['design_roll_rate_deg_s']:g} deg/s\n"
    )


def _worm(worm: Worm) -> str:
    heads = ["mesh", "friction", "forward efficiency", "back efficiency", "locks from", "margin",
             "verdict"]  # fmt: skip
    rows = []
    for name, state in (("dry", worm.dry), ("greased", worm.greased)):
        flown = " (as flown)" if name == worm.lubrication else ""
        rows.append(
            [
                name + flown,
                _span(state.friction),
                _span(state.forward_efficiency),
                _span(state.back_efficiency),
                number(state.locking_friction, 3),
                number(state.margin, 3),
                state.verdict,
            ]
        )
    return f"{table(heads, rows)}\n{worm.caution}"


def _span(pair: Sequence[float]) -> str:
    return f"{pair[0]:.3g} to {pair[1]:.3g}"


def _moments(study: HingeStudy) -> str:
    heads = ["fold [deg]", "airspeed [m/s]", "load factor", "hinge", *PARTS]
    lines = []
    for row in study.moments:
        place = [f"{row.fold_deg:g}", f"{row.airspeed_m_s:g}"]
        if row.reason is not None:
            lines.append([*place, short(row.reason)] + [""] * (len(PARTS) + 1))
            continue
        place += [largest_words(row, study.stall_words), tip_words(row.most_loaded_hinge or "")]
        lines.append([*place, *(number(part(row.hinge()), 3) for part in PARTS.values())])
    errors = "; ".join(
        f"{one.fold_deg:g} deg: {with_error(one.air_N_m, one.half_width_N_m)}"
        for one in study.moment_errors
    )
    return f"{table(heads, lines, left=0)}\nair's moment with the lattice's error, N m: {errors}"


def _servo(rows: Sequence[MomentRow]) -> str:
    heads = ["fold [deg]", "airspeed [m/s]", "load factor", "moment [N m]", "raising [N m]",
             "lowering [N m]", "holding [N m]", "share of stall",
             "share of hinge limit"]  # fmt: skip
    lines = []
    lowest = min(row.load_factor for row in rows)
    for row in rows:
        servo = row.servo
        if servo is None or row.load_factor != lowest:
            continue
        torques = (servo.moment_N_m, servo.raising_N_m, servo.lowering_N_m, servo.holding_N_m)
        lines.append(
            [
                *(f"{value:g}" for value in (row.fold_deg, row.airspeed_m_s, row.load_factor)),
                *(number(value, 3) for value in torques),
                number(row.share_of_stall, 2),
                number(row.share_of_hinge_limit, 2),
            ]
        )
    return table(heads, lines, left=0) + "\nnegative: the load drives the servo; more in --json"


def _folding(moves: Sequence[MoveRow]) -> str:
    heads = ["move", "from [deg]", "to [deg]", "time [s]", "energy, all servos [J]",
             "work on the tips [J]", "peak torque [N m]"]  # fmt: skip
    lines = []
    for move in moves:
        place = [move.name, f"{move.from_deg:g}", f"{move.to_deg:g}"]
        slow, quick = move.greatest_friction, move.least_friction
        if slow is None or quick is None or move.servos is None:
            lines.append([*place, short(move.reason or ""), "", "", ""])
            continue
        peak = number(slow.peak_torque_N_m, 3)
        if slow.stalls_at_deg is not None:
            lines.append([*place, f"stalls at {number(slow.stalls_at_deg, 3)} deg", "", "", peak])
            continue
        lines.append(
            [
                *place,
                f"{number(quick.time_s, 3)} to {number(slow.time_s, 3)}",
                f"{number(quick.energy_all_servos_J, 3)} to {number(slow.energy_all_servos_J, 3)}",
                number(slow.work_on_tips_J, 3),
                peak,
            ]
        )
    return table(heads, lines, left=1) + "\nranges: lowest and highest friction as flown"
