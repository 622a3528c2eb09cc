"""The tables of a study of lateral stability, for people."""

from collections.abc import Mapping, Sequence
from typing import Any

from vlm.cautions import SHORT_CAUTION
from vlm.show.tables.layout import number, section, short, table, with_error

Document = Mapping[str, Any]
SHARES = ("fixed_wings", "tips", "lift", "height", "total", "wake_turn")


def lateral_table(document: Document) -> str:
    """All of a ``lateral`` document as text; modes at the airspeed asked for only."""
    speeds = sorted({row["airspeed_m_s"] for row in document["modes"]})
    asked = min(speeds, key=lambda speed: abs(speed - document["state"]["airspeed_m_s"]))
    shown = [row for row in document["modes"] if row["airspeed_m_s"] == asked]
    left_out = ", ".join(f"{speed:g}" for speed in speeds if speed != asked)
    other = f" (at {left_out} m/s: see --json and --plot)" if left_out else ""
    blocks = [
        _head(document),
        section("Level flight, per radian, body axes", _level(document["folds"])),
        section("Cl_beta at fixed angles of attack", _fixed(document)),
        section("Folds without dihedral effect, in level flight", neutral_lines(document)),
        section(
            "Where Cl_beta comes from (parts add up to the total; last: if the wake followed the"
            " stream)",
            _shares(document["shares"]),
        ),
        section("Lateral modes, level flight" + other, modes_table(shown, "lateral")),
        section("Longitudinal modes, level flight", modes_table(shown, "longitudinal")),
    ]
    if document["unlike_folds"]:
        blocks.append(
            section(
                "Modes of unlike folds, all motions coupled", _coupled(document["unlike_folds"])
            )
        )
    blocks.append(section("What the rotors' control must add", _aid(document["rotors_must_add"])))
    return "\n".join(
        [*blocks, "Assumed: " + "; ".join(document["assumptions"]) + ".", CAUTION, SHORT_CAUTION]
    )


CAUTION = (
    "A craft that is unstable by these numbers needs control laws that have been tested; so does"
    " one that looks stable."
)


def _head(document: Document) -> str:
    state, reference = document["state"], document["reference"]
    point = ", ".join(number(float(v)) for v in reference["moment_point_m"])
    return (
        f"{document['title']}\n"
        f"{state['airspeed_m_s']:g} m/s, {state['density_kg_m3']:g} kg/m^3; reference area"
        f" {number(reference['area_m2'])} m^2, span {number(reference['span_m'])} m, moment point"
        f" ({point}) m\n"
        "Cl positive starboard wing down, Cn nose to starboard, sideslip wind from starboard:"
        " Cl_beta < 0 is a stable dihedral effect, Cn_beta > 0 weathercock stability\n"
    )


def _level(rows: Sequence[Document]) -> str:
    heads = ["fold [deg]", "angle of attack [deg]", "CL", "Cl_beta", "dihedral effect", "Cn_beta",
             "CY_beta", "Cl_p", "Cn_p", "Cl_r", "Cn_r"]  # fmt: skip
    lines = []
    for row in rows:
        level = row.get("level", row)
        if "reason" in level:
            lines.append([f"{row['fold_deg']:g}", short(level["reason"])] + [""] * 9)
            continue
        body, errors = level["body"], level["errors"]
        joined = " (box joined)" if row["joined"] else ""
        lines.append(
            [
                f"{row['fold_deg']:g}",
                number(level["alpha_deg"], 3),
                number(level["CL"], 3),
                with_error(body["Cl_beta"], errors["Cl_beta"]),
                level["dihedral_effect"] + joined,
                with_error(body["Cn_beta"], errors["Cn_beta"]),
                *(number(body[name], 3) for name in ("CY_beta", "Cl_p", "Cn_p", "Cl_r", "Cn_r")),
            ]
        )
    return table(heads, lines, left=0)


def _fixed(document: Document) -> str:
    alphas = document["state"]["alphas_deg"]
    heads = ["fold [deg]", *(f"alpha {alpha:g} deg" for alpha in alphas)]
    lines = [
        [
            f"{row['fold_deg']:g}",
            *(
                with_error(at["body"]["Cl_beta"], at["errors"]["Cl_beta"])
                + f" {at['dihedral_effect']}"
                for at in row["alphas"]
            ),
        ]
        for row in document["folds"]
        if "reason" not in row
    ]
    return table(heads, lines, left=0)


def neutral_lines(document: Document) -> str:
    """The roots of Cl_beta with their intervals, in words."""
    lines = [
        f"{root['fold_deg']:.2f} deg (+- {root['half_width_deg']:.2f} by the lattice; a wake that"
        f" did not turn with sideslip would move it by {root['wake_turn_moves_by_deg']:+.1f} deg):"
        f" stable {root['stable']} it" + "".join(f"\n  doubt: {doubt}" for doubt in root["doubts"])
        for root in document["neutral_folds"]
    ]
    return "\n".join(lines) or "none in the range of folds"


def _shares(shares: Sequence[Document]) -> str:
    heads = ["fold [deg]", "angle of attack [deg]", "fixed wings", "tips", "lift", "height",
             "total", "wake turn"]  # fmt: skip
    lines = []
    for one in shares:
        if "reason" in one:
            lines.append([f"{one['fold_deg']:g}", short(one["reason"])] + [""] * 6)
            continue
        numbers = [f"{one[name]:+.4f}" for name in SHARES]
        lines.append([f"{one['fold_deg']:g}", number(one["alpha_deg"], 3), *numbers])
    return table(heads, lines, left=0)


def mode_words(mode: Document) -> str:
    """A mode in short: what it does and how fast."""
    if mode["frequency_rad_s"] is not None:
        damping = number(mode["damping_ratio"], 2)
        pair = f"{number(mode['frequency_rad_s'], 3)} rad/s, damping {damping}"
    else:
        pair = f"root {number(mode['real_1_s'], 3)} 1/s"
    if mode["half_time_s"] is not None:
        return f"{pair}, half in {number(mode['half_time_s'], 2)} s"
    if mode["double_time_s"] is not None:
        return f"{pair}, double in {number(mode['double_time_s'], 2)} s"
    return f"{pair}, neutral"


def modes_table(rows: Sequence[Document], block: str) -> str:
    """All modes of one block, a line each."""
    lines = []
    for row in rows:
        place = [f"{row['fold_left_deg']:g}", f"{row['airspeed_m_s']:g}"]
        if "reason" in row:
            lines.append([*place, short(row["reason"]), ""])
            continue
        for mode in row[block]["modes"]:
            lines.append([*place, mode["name"], mode_words(mode)])
            place = ["", ""]
    return table(["fold [deg]", "airspeed [m/s]", "mode", ""], lines, left=4)


def _coupled(rows: Sequence[Document]) -> str:
    lines = []
    for row in rows:
        folds = f"port {row['fold_left_deg']:g}, starboard {row['fold_right_deg']:g} deg"
        if "reason" in row:
            lines.append([row["name"], folds, short(row["reason"])])
            continue
        first = [row["name"], folds]
        for mode in row["coupled"]["modes"]:
            lines.append([*first, mode_words(mode)])
            first = ["", ""]
    return table(["configuration", "folds", "mode"], lines, left=3)


def _aid(rows: Sequence[Document]) -> str:
    heads = ["fold [deg]", "own yaw stiffness [N m/rad]", "own damping [N m s]", "yaw", "pitch",
             "trim [N m], nose up", "rotors can: yaw, pitch [N m]"]  # fmt: skip
    lines = []
    for row in rows:
        if "reason" in row:
            lines.append([f"{row['fold_deg']:g}", short(row["reason"])] + [""] * 5)
            continue
        can = row["rotors_can"]
        lines.append(
            [
                f"{row['fold_deg']:g}",
                number(row["own_yaw_stiffness_N_m_rad"], 3),
                number(row["own_yaw_damping_N_m_s"], 3),
                row["yaw"]["words"],
                row["pitch"]["words"],
                number(row["trim_pitching_moment_N_m"], 3),
                f"{number(can['yaw_N_m'], 2)}, {number(can['pitch_N_m'], 2)}" if can else "-",
            ]
        )
    return table(heads, lines, left=0)
