"""The tables of a study of hinge, worm gear and servo, for people."""

from collections.abc import Mapping, Sequence
from typing import Any

from vlm.findings import Finding
from vlm.show.sentences import hinge_sentence
from vlm.show.tables.answer import framed, listed
from vlm.show.tables.layout import number, section, short, table, with_error
from vlm.show.words import slipstream_words, tip_words
from vlm.sides import Side
from vlm.study.slipstream import SlipstreamRow

Document = Mapping[str, Any]
PARTS = {
    "air": "air",
    "weight": "weight",
    "pull_up": "pull-up",
    "roll_air": "air in roll",
    "roll_rate": "centrifugal",
    "roll_acceleration": "roll acceleration",
    "steady": "steady sum",
    "worst": "worst in roll",
}
"""Parts of a hinge moment in a document, and what people call them."""


def hinge_table(document: Document, *, full: bool = False) -> str:
    """A ``hinge`` document as text: the answer and two tables; all of it with ``full``."""
    state = document["state"]
    title = f"{document['title']}: hinge and drive at {state['airspeed_m_s']:g} m/s"
    blocks = [
        section("Highest moment about a hinge, N m; positive raises the tip",
                _greatest(document["moments"])).rstrip(),
        section("Folding in level flight; highest friction", _short_moves(document)).rstrip(),
    ]  # fmt: skip
    rests = (
        f"{document['modelling']}, {state['density_kg_m3']:g} kg/m^3; ± is the lattice's error and"
        " what the model leaves open; none for the sections"
    )
    findings = [Finding(**one) for one in document["findings"]]
    return framed(title, _answer(document), blocks, findings, rests,
                  _full(document) if full else None)  # fmt: skip


def _answer(document: Document) -> list[str]:
    worm = document["worm"]
    flown = worm[worm["lubrication"]]
    row = document["slipstream"]
    found = [
        *slipstream_words(None if row is None else SlipstreamRow(**row)),
        hinge_sentence(document).replace("°", " deg"),
        f"Worm, {worm['lubrication']}: {flown['verdict']} (lowest friction"
        f" {number(flown['margin'], 3)} times what locks). {worm['caution'].capitalize()}.",
        *limit_lines(document["limits"]).splitlines(),
    ]
    for row in document["jammed"]:
        if "reason" in row:
            continue
        roll = row["roll"]
        found.append(
            f"Port tips jammed at {row['jammed_left_deg']:g}, starboard at {row['right_deg']:g}"
            f" deg: roll {with_error(roll['moment_N_m'], roll['half_width_N_m'])} N m,"
            f" {_held(roll)}; fold the other side alike."
        )
    return [one for one in found if one]


def _held(axis: Document) -> str:
    can = axis["rotors_N_m"]
    return axis["held"] if can is None else f"{axis['held']} ({number(can, 2)} N m)"


def _greatest(rows: Sequence[Document]) -> str:
    """The row of the largest worst moment at each fold."""
    heads = ["fold", "at m/s", "load factor", "hinge", "steady", "worst", "of limit"]
    lines = []
    for fold in dict.fromkeys(row["fold_deg"] for row in rows):
        own = [row for row in rows if row["fold_deg"] == fold and "reason" not in row]
        if not own:
            lines.append([f"{fold:g}", "too slow", "", "", "", "", ""])
            continue
        row = max(own, key=_worst_of)
        hinge = row["hinges"][row["most_loaded_hinge"]]
        lines.append(
            [
                f"{fold:g}",
                f"{row['airspeed_m_s']:g}",
                _factor(row),
                tip_words(row["most_loaded_hinge"]),
                number(hinge["steady_N_m"], 3),
                with_error(hinge["worst_N_m"], hinge["half_width_N_m"]),
                number(row["share_of_hinge_limit"], 2),
            ]
        )
    note = "of limit: the worst moment and its ± together"
    return f"{table(heads, lines, left=0)}\n{note}"


def _worst_of(row: Document) -> float:
    hinge = row["hinges"][row["most_loaded_hinge"]]
    return abs(float(hinge["worst_N_m"])) + float(hinge["half_width_N_m"] or 0.0)  # null: unknown


def _factor(row: Document) -> str:
    """The load factor; where the wings stall first, the one they reach."""
    reached = row["reached_load_factor"]
    if reached < row["load_factor"] - 1e-9:
        return f"{reached:.2f} (stall)"
    return f"{row['load_factor']:g}"


def _short_moves(document: Document) -> str:
    heads = ["move", "time, s", "peak, N m", "start, N m", "stop, N m", "of hinge limit"]
    lines = []
    for move in document["folding"]:
        if "reason" in move:
            lines.append([move["name"], short(move["reason"]), "", "", "", ""])
            continue
        slow, stop = move["greatest_friction"], move["stop"]
        stalls = slow["stalls_at_deg"]
        lines.append(
            [
                move["name"] if "limit" not in move["name"] else f"0 to {move['to_deg']:g}",
                number(slow["time_s"], 3) if stalls is None else f"stalls at {stalls:.0f} deg",
                number(slow["peak_torque_N_m"], 3),
                number(move["starting_torque_N_m"], 3),
                number(stop["peak_N_m"], 3) if stop else "-",
                number(stop["share_of_hinge_limit"], 2) if stop else "-",
            ]
        )
    note = "peak and start: servo's torque; stop: steady moment and shock about the hinge"
    return f"{table(heads, lines)}\n{note}"


def _full(document: Document) -> list[str]:
    blocks = [
        _head(document),
        section("Worm gear", _worm(document["worm"])),
        section("Moment about the most loaded hinge [N m], positive raises the tip",
                _moments(document)),
        section("Servo", _servo(document["moments"])),
        section("Folding, level flight", _folding(document["folding"])),
        section("When the worm stops a tip", _stops(document["folding"])),
        section("Wing roots", _wings(document["wings"])),
        section("Roll from backlash", _backlash(document["backlash"])),
        section("Divergence of the hinge", _divergence(document["divergence"])),
        section("Weight of the tips in hover, nose up", _hover(document["hover"])),
        section("Port tips jammed", _jams(document["jammed"])),
    ]  # fmt: skip
    assumed = listed("Assumed", document["assumptions"])
    return [*(block.rstrip() for block in blocks), assumed]


def _stops(moves: Sequence[Document]) -> str:
    heads = ["move", "hinge", "tip speed [deg/s]", "steady [N m]", "shock [N m]", "peak [N m]",
             "share of hinge limit"]  # fmt: skip
    keys = ("tip_speed_deg_s", "steady_N_m", "shock_N_m", "peak_N_m", "share_of_hinge_limit")
    lines = []
    for move in moves:
        stop = move.get("stop")
        if stop is None:
            lines.append([move["name"], short(move.get("reason", "no stiffness"))] + [""] * 5)
            continue
        lines.append([move["name"], tip_words(stop["hinge"]), *(number(stop[k], 3) for k in keys)])
    return table(heads, lines, left=2) + "\nshock: speed times the root of stiffness and inertia"


def _hover(rows: Sequence[Document]) -> str:
    heads = ["fold [deg]", "on one servo [N m]"]
    lines = [
        [f"{row['fold_deg']:g}", short(row["reason"]) if "reason" in row
         else number(_plain(row["on_servo_N_m"]), 3)]
        for row in rows
    ]  # fmt: skip
    return table(heads, lines, left=0)


def _plain(value: float) -> float:
    return 0.0 if abs(value) < 1e-9 else value


def _jams(rows: Sequence[Document]) -> str:
    heads = ["port [deg]", "starboard [deg]", "alpha [deg]", "thrust [N]", "roll [N m]", "",
             "yaw [N m]", "", "unheld roll [deg/s]"]  # fmt: skip
    lines = []
    for row in rows:
        place = [f"{row['jammed_left_deg']:g}", f"{row['right_deg']:g}"]
        if "reason" in row:
            lines.append([*place, short(row["reason"])] + [""] * 6)
            continue
        cells = [*place, number(row["alpha_deg"], 3), number(row["thrust_N"], 3)]
        for name in ("roll", "yaw"):
            one = row[name]
            cells += [with_error(one["moment_N_m"], one["half_width_N_m"]), _held(one)]
        lines.append([*cells, number(row["roll_rate_unheld_deg_s"], 3)])
    return table(heads, lines, left=0)


def _head(document: Document) -> str:
    state = document["state"]
    return (
        f"{document['title']}\n"
        f"{state['airspeed_m_s']:g} m/s, {state['density_kg_m3']:g} kg/m^3; limit load factor"
        f" {state['load_factor_limit']:g}, design roll rate"
        f" {state['design_roll_rate_deg_s']:g} deg/s\n"
    )


def _worm(worm: Document) -> str:
    heads = ["mesh", "friction", "forward efficiency", "back efficiency", "locks from", "margin",
             "verdict"]  # fmt: skip
    rows = []
    for name in ("dry", "greased"):
        state = worm[name]
        flown = " (as flown)" if name == worm["lubrication"] else ""
        rows.append(
            [
                name + flown,
                _span(state["friction"]),
                _span(state["forward_efficiency"]),
                _span(state["back_efficiency"]),
                number(state["locking_friction"], 3),
                number(state["margin"], 3),
                state["verdict"],
            ]
        )
    return f"{table(heads, rows)}\n{worm['caution']}"


def _span(pair: Sequence[float]) -> str:
    return f"{pair[0]:.3g} to {pair[1]:.3g}"


def _moments(document: Document) -> str:
    heads = ["fold [deg]", "airspeed [m/s]", "load factor", "hinge", *PARTS.values()]
    lines = []
    for row in document["moments"]:
        place = [f"{row['fold_deg']:g}", f"{row['airspeed_m_s']:g}"]
        if "reason" in row:
            lines.append([*place, short(row["reason"])] + [""] * (len(PARTS) + 1))
            continue
        place += [_factor(row), tip_words(row["most_loaded_hinge"])]
        hinge = row["hinges"][row["most_loaded_hinge"]]
        lines.append([*place, *(number(hinge[f"{part}_N_m"], 3) for part in PARTS)])
    errors = "; ".join(
        f"{one['fold_deg']:g} deg: {with_error(one['air_N_m'], one['half_width_N_m'])}"
        for one in document["moment_errors"]
    )
    return f"{table(heads, lines, left=0)}\nair's moment with the lattice's error, N m: {errors}"


def _servo(rows: Sequence[Document]) -> str:
    heads = ["fold [deg]", "airspeed [m/s]", "load factor", "moment [N m]", "raising [N m]",
             "lowering [N m]", "holding [N m]", "share of stall",
             "share of hinge limit"]  # fmt: skip
    lines = []
    lowest = min(row["load_factor"] for row in rows)
    for row in rows:
        if "reason" in row or row["load_factor"] != lowest:
            continue
        servo = row["servo"]
        lines.append(
            [
                f"{row['fold_deg']:g}",
                f"{row['airspeed_m_s']:g}",
                f"{row['load_factor']:g}",
                *(
                    number(servo[f"{k}_N_m"], 3)
                    for k in ("moment", "raising", "lowering", "holding")
                ),
                number(row["share_of_stall"], 2),
                number(row["share_of_hinge_limit"], 2),
            ]
        )
    return table(heads, lines, left=0) + "\nnegative: the load drives the servo; more in --json"


def _folding(moves: Sequence[Document]) -> str:
    heads = ["move", "from [deg]", "to [deg]", "time [s]", "energy, all servos [J]",
             "work on the tips [J]", "peak torque [N m]"]  # fmt: skip
    lines = []
    for move in moves:
        place = [move["name"], f"{move['from_deg']:g}", f"{move['to_deg']:g}"]
        if "reason" in move:
            lines.append([*place, short(move["reason"]), "", "", ""])
            continue
        slow, quick = move["greatest_friction"], move["least_friction"]
        if slow["stalls_at_deg"] is not None:
            stall = f"stalls at {number(slow['stalls_at_deg'], 3)} deg"
            lines.append([*place, stall, "", "", number(slow["peak_torque_N_m"], 3)])
            continue
        lines.append(
            [
                *place,
                f"{number(quick['time_s'], 3)} to {number(slow['time_s'], 3)}",
                f"{number(quick['energy_all_servos_J'], 3)} to"
                f" {number(slow['energy_all_servos_J'], 3)}",
                number(move["servos"] * slow["work_on_tips_one_servo_J"], 3),
                number(slow["peak_torque_N_m"], 3),
            ]
        )
    return table(heads, lines, left=1) + "\nranges: lowest and highest friction as flown"


def limit_lines(limits: Document) -> str:
    """Fastest airspeeds to move and to hold a tip, in words."""
    lines = []
    for name, limit in limits["moved"].items():
        stall = number(limits["moment_at_stall_N_m"][name], 3)
        lines.append(f"moved, {name}: {_limit_words(limit)} (the servo stalls at {stall} N m)")
    limit = limits["hinge_moment_limit_N_m"]
    named = "no hinge limit in the file" if limit is None else f"hinge limit {number(limit, 3)} N m"
    lines.append(
        f"held in a rolling pull-up at limit load: {_limit_words(limits['held'])}"
        f" ({named}; the servo holds where the gear may not lock)"
    )
    return "\n".join(lines)


def _limit_words(limit: Document) -> str:
    if limit["fails_already"]:
        return f"not even at the airspeed asked for, at fold {limit['fold_deg']:g} deg"
    if limit["airspeed_m_s"] is None:
        return f"at every airspeed up to {limit['searched_to_m_s']:.3g} m/s"
    speed, width = limit["airspeed_m_s"], limit["half_width_m_s"]
    known = number(speed, 3) if width is None else with_error(speed, width)
    return f"up to {known} m/s, failing at fold {limit['fold_deg']:g} deg"


def _wings(rows: Sequence[Document]) -> str:
    heads = ["fold [deg]", "load factor", "wing", "root shear [N]", "root bending [N m]",
             "bending at the hinge [N m]", "share of limit"]  # fmt: skip
    lines = []
    for row in rows:
        place = [f"{row['fold_deg']:g}", f"{row['load_factor']:g}"]
        if "reason" in row:
            lines.append([*place, short(row["reason"]), "", "", "", ""])
            continue
        place[1] = _factor(row)
        joined = " (joined: not determined by statics)" if row["joined"] else ""
        joined += " (without the fins' loads)" if row["fins_left_out"] else ""
        for half in row["halves"]:
            if half["side"] != Side.STARBOARD:
                continue
            lines.append(
                [
                    *place,
                    half["wing"] + joined,
                    number(half["root_shear_N"], 3),
                    number(half["root_bending_N_m"], 3),
                    number(_at_hinge(half), 3),
                    number(row["share_of_root_limit"], 2),
                ]
            )
    return table(heads, lines, left=0)


def _at_hinge(half: Document) -> float | None:
    place = half["hinge_distance_m"]
    if place is None:
        return None
    nearest = min(range(len(half["distance_m"])), key=lambda i: abs(half["distance_m"][i] - place))
    return float(half["bending_N_m"][nearest])


def _backlash(rows: Sequence[Document]) -> str:
    heads = ["fold, deg", "roll, N m", "yaw (+ proverse), N m", "Cl", "steady roll, deg/s"]
    lines = [
        [f"{row['fold_deg']:g}", short(row["reason"]), "", "", ""]
        if "reason" in row
        else [
            f"{row['fold_deg']:g}",
            number(row["rolling_moment_N_m"], 3),
            number(row["yawing_moment_N_m"], 3),
            number(row["Cl"], 3),
            number(row["roll_rate_deg_s"], 3),
        ]
        for row in rows
    ]
    return table(heads, lines, left=0)


def _divergence(rows: Sequence[Document]) -> str:
    if not rows:
        return "the file names no hinge_stiffness_N_m_rad"
    heads = ["fold [deg]", "airspeed [m/s]", "tips move", "air's stiffness here [N m/rad]",
             "hinge's stiffness [N m/rad]"]  # fmt: skip
    lines = []
    for row in rows:
        if "reason" in row:
            lines.append([f"{row['fold_deg']:g}", short(row["reason"]), "", "", ""])
            continue
        speed = row["airspeed_m_s"]
        none = f"none up to {row['searched_to_m_s']:.3g}"
        lines.append(
            [
                f"{row['fold_deg']:g}",
                number(speed, 4) if speed is not None else none,
                row["tips_move"],
                number(row["air_stiffness_N_m_rad"], 3),
                number(row["hinge_stiffness_N_m_rad"], 3),
            ]
        )
    return table(heads, lines, left=0) + "\nnegative air's stiffness: the air pushes the tip on"
