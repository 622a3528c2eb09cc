"""The tables of a study of rolling by folding, for people."""

from collections.abc import Mapping, Sequence
from typing import Any

from vlm.cautions import SHORT_CAUTION
from vlm.show.tables.layout import number, section, short, table, with_error

Document = Mapping[str, Any]


def roll_table(document: Document) -> str:
    """All of a ``roll`` document as text."""
    blocks = [
        _head(document),
        section("Strongest pair on the map", _strongest(document["strongest"])),
        section(
            "Pure roll: pairs without lift change at the base's angle of attack",
            _pairs(document["pure_roll_pairs"])
            if document["pure_roll_pairs"]
            else "none on the map: every roll command from this base changes the lift",
        ),
        section(
            "Least yaw for a quarter, half, three quarters and 95 % of the strongest roll",
            _pairs(document["least_yaw_pairs"]),
        ),
        section("Commands from the base", _commands(document["commands"])),
        section("Authority against airspeed, lift held", _airspeeds(document["airspeeds"])),
        section("Bank after a command", _history(document["bank_history"])),
    ]
    if document.get("rotors"):
        blocks.insert(
            -1, section("Against the rotors' reaction torque", rotor_lines(document["rotors"]))
        )
    return "\n".join(
        [*blocks, "Assumed: " + "; ".join(document["assumptions"]) + ".", SHORT_CAUTION]
    )


def _head(document: Document) -> str:
    state, base = document["state"], document["base"]
    reference = document["reference"]
    return (
        f"{document['title']}\n"
        f"commands start from fold {state['base_fold_deg']:g} deg at {state['airspeed_m_s']:g} m/s,"
        f" {state['density_kg_m3']:g} kg/m^3: angle of attack {number(base['alpha_deg'], 3)} deg,"
        f" {number(base['mass_kg'])} kg\n"
        "moments positive: rolling starboard wing down, yawing nose to starboard, pitching nose"
        f" up; reference area {number(reference['area_m2'])} m^2,"
        f" span {number(reference['span_m'])} m\n"
    )


def _strongest(pair: Document | None) -> str:
    if pair is None:
        return "no pair of folds has a value"
    moment = with_error(pair["rolling_moment_N_m"], pair["rolling_moment_error_N_m"])
    return (
        f"port {pair['left_deg']:g} deg, starboard {pair['right_deg']:g} deg: rolling moment"
        f" {moment} N m (Cl {number(pair['Cl'], 3)}), yawing"
        f" {number(pair['yawing_moment_N_m'], 3)},"
        f" pitching {number(pair['pitching_moment_N_m'], 3)} N m; lift change"
        f" {number(pair['lift_change_N'], 3)} N before re-trimming;"
        f" steady roll {number(pair['roll_rate_deg_s'], 3)} deg/s"
    )


def _pairs(pairs: Sequence[Document]) -> str:
    heads = ["port [deg]", "starboard [deg]", "rolling [N m]", "yawing [N m]", "pitching [N m]",
             "lift change [N]", "roll rate [deg/s]"]  # fmt: skip
    keys = ("left_deg", "right_deg", "rolling_moment_N_m", "yawing_moment_N_m",
            "pitching_moment_N_m", "lift_change_N", "roll_rate_deg_s")  # fmt: skip
    rows = [[number(_plain(pair[key]), 3) for key in keys] for pair in pairs]
    return table(heads, rows, left=0)


def _plain(value: float | None) -> float | None:
    """A lift change of less than a thousandth of a newton is none."""
    return 0.0 if value is not None and abs(value) < 1e-3 else value


def _commands(commands: Sequence[Document]) -> str:
    heads = ["command", "slope [N m/deg]", "linear within 10 % to [deg]", "turns back at [deg]",
             "reverses at [deg]"]  # fmt: skip
    rows = [
        [
            command["name"],
            number(command["slope_N_m_deg"], 3),
            " to ".join(f"{v:g}" for v in command["linear_to_deg"]),
            ", ".join(number(v, 3) for v in command["turns_at_deg"]) or "-",
            ", ".join(number(v, 3) for v in command["reverses_at_deg"]) or "-",
        ]
        for command in commands
    ]
    return table(heads, rows)


def _airspeeds(rows: Sequence[Document]) -> str:
    heads = ["airspeed [m/s]", "angle of attack [deg]", "strongest [N m]", "rate [deg/s]",
             "both apart 20 deg [N m]", "rate [deg/s]", "port down 20 deg [N m]",
             "rate [deg/s]"]  # fmt: skip
    lines = []
    for row in rows:
        if "reason" in row:
            lines.append([f"{row['airspeed_m_s']:g}", short(row["reason"])] + [""] * 6)
            continue
        cells = [f"{row['airspeed_m_s']:g}", number(row["alpha_deg"], 3)]
        for name in ("strongest", "both_apart_20_deg", "port_down_20_deg"):
            point = row[name] or {}
            cells.append(number(point.get("rolling_moment_N_m"), 3))
            cells.append(number(point.get("roll_rate_deg_s"), 3))
        lines.append(cells)
    return table(heads, lines, left=2)


def rotor_lines(rotors: Document) -> str:
    """What the rotors' reaction torque can do, and where the tips match it."""
    if "reason" in rotors:
        return f"none: {rotors['reason']}"
    equal = ", ".join(number(v, 2) for v in rotors["equal_airspeeds_m_s"])
    heads = ["airspeed [m/s]", "body angle [deg]", "thrust [N]", "tips [N m]", "rotors [N m]"]
    keys = ("airspeed_m_s", "body_angle_deg", "thrust_N", "tips_N_m", "rotors_N_m")
    found = rotors["airspeeds"]
    shown = found[:: max(1, len(found) // 10)]
    rows = [[number(row[key], 3) for key in keys] for row in shown]
    return (
        f"tips to port {rotors['left_deg']:g}, starboard {rotors['right_deg']:g} deg; equal at"
        f" {equal + ' m/s' if equal else 'no airspeed'}; {rotors['words']}\n"
        f"{table(heads, rows, left=0)}"
    )


def _history(history: Document) -> str:
    if "reason" in history:
        return f"none: {history['reason']}"
    rate = number(history["steady_roll_rate_deg_s"], 3)
    lines = [
        f"from {history['from_deg']:g} deg to port {history['left_deg']:g}, starboard"
        f" {history['right_deg']:g} deg in {number(history['folding_time_s'], 3)} s"
        f" ({number(history['mean_fold_speed_deg_s'], 3)} deg/s); steady roll {rate} deg/s"
    ]
    heads = ["yaw", "rolls", "to 30 deg [s]", "45 deg [s]", "60 deg [s]",
             "first the wrong way [deg]", "peak rate [deg/s]", "peak sideslip [deg]"]  # fmt: skip
    rows = [
        [
            h["name"],
            h["sense"],
            *(number(h["time_to_s"][bank], 3) for bank in ("30", "45", "60")),
            number(h["first_the_wrong_way_deg"], 2),
            number(h["peak_roll_rate_deg_s"], 3),
            number(h["peak_sideslip_deg"], 3),
        ]
        for h in history["histories"]
    ]
    return "\n".join([*lines, table(heads, rows, left=2)])
