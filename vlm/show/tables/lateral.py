"""The tables of a study of lateral stability, for people."""

from collections.abc import Sequence
from functools import partial
from typing import TYPE_CHECKING

from vlm.plain import spans
from vlm.show.growth import growth_sentences, open_growth
from vlm.show.sentences import neutral_sentences
from vlm.show.text.answer import framed, listed, wrapped
from vlm.show.text.layout import fitted, number, section, short, table, with_error
from vlm.show.words import litres, slipstream_words
from vlm.verdicts import SIGN_NOT_KNOWN

if TYPE_CHECKING:
    from vlm.study.lateral.results import (
        AidRow,
        Derivatives,
        FoldRow,
        LateralStudy,
        ModeBlock,
        ModeRow,
        RotorsCan,
        SettingModes,
        SharesRow,
    )

SHARES = ("fixed_wings", "tips", "lift", "height", "sections", "drag_areas", "rotors", "total",
          "wake_turn")  # fmt: skip
ROTORS_CAN = (
    "What rotors can has the ± of the power that they need, by [uncertainty]; it has none where a"
    " thrust that the file states ends it."
)
CONTROL = (
    "A craft that is unstable by these numbers needs control laws that have been tested; so does"
    " one that looks stable."
)


def lateral_table(study: "LateralStudy", *, full: bool = False) -> str:
    """A ``lateral`` study as text: the answer and one table; all of it with ``full``."""
    state = study.state
    speed = float(state["airspeed_m_s"])
    rows = {row.fold_left_deg: row for row in study.asked_modes}
    other = {row.airspeed_m_s for row in rows.values()} - {speed}
    place = "".join(f" at {one:g} m/s" for one in other)
    head = f"Level flight; folds in deg, Cl_beta per radian, modes{place} in 1/s (+ grows)"
    blocks = [section(head, _overview(study.folds, rows)).rstrip()]
    rests = (
        f"{study.modelling}, {state['density_kg_m3']:g} kg/m^3; ± is the lattice's error and what"
        " the wake leaves open together; controls fixed"
    )
    title = f"{study.title}: lateral stability, level flight at {speed:g} m/s"
    answer = [*slipstream_words(study.slipstream), *_answer(study), CONTROL]
    return framed(title, answer, blocks, study.findings, rests, _full(study) if full else None)


def _answer(study: "LateralStudy") -> list[str]:
    known: dict[str, list[float]] = {"unstable": [], "stable": [], SIGN_NOT_KNOWN: []}
    for row in study.folds:
        word = row.level.dihedral_effect if row.level is not None else None
        if word is not None:
            known.setdefault(word, []).append(row.fold_deg)
    every = [fold for folds in known.values() for fold in folds]
    at = partial(spans, among=every, unit=" deg")
    found = growth_sentences(study)
    found += [f"Whether it is stable {text} is not known." for text in open_growth(study)]
    if known["unstable"]:
        found.append(f"Unstable dihedral effect at {at(known['unstable'])}.")
    if known[SIGN_NOT_KNOWN]:
        folds = at(known[SIGN_NOT_KNOWN])
        found.append(f"The sign of the dihedral effect is not known at {folds}.")
    if known["stable"]:
        found.append(f"Stable dihedral effect at {at(known['stable'])}.")
    found += neutral_sentences(study)
    return found


def _overview(folds: "Sequence[FoldRow]", modes: "dict[float, SettingModes]") -> str:
    heads = ["fold", "Cl_beta", "", "worst lateral", "worst longitudinal"]
    lines = []
    for row in folds:
        level = row.level
        if row.reason is not None or level is None or level.reason is not None:
            why = row.reason or (level.reason if level is not None and level.reason else "")
            lines.append([f"{row.fold_deg:.4g}", short(why), "", "", ""])
            continue
        assert level.body is not None
        found = modes.get(row.fold_deg)
        lines.append(
            [
                f"{row.fold_deg:.4g}",
                with_error(level.body["Cl_beta"], level.half_width("Cl_beta")),
                level.dihedral_effect or "",
                _worst(found.lateral if found is not None else None),
                _worst(found.longitudinal if found is not None else None),
            ]
        )
    return fitted(heads, lines, left=0)


SHORT_NAMES = {
    "roll subsidence": "roll",
    "roll divergence": "roll",
    "sideslip subsidence": "sideslip",
    "sideslip divergence": "sideslip",
    "rolling oscillation": "rolling osc.",
    "spiral oscillation": "spiral osc.",
    "pitch subsidence": "pitch",
    "pitch divergence": "pitch",
    "speed-and-pitch oscillation": "speed osc.",
    "speed subsidence": "speed",
    "speed divergence": "speed",
}


def _worst(block: "ModeBlock | None") -> str:
    if block is None or not block.modes:
        return "-"
    mode = max(block.modes, key=lambda one: one.real_1_s)
    name = SHORT_NAMES.get(mode.name, mode.name)
    sign = "?" if mode.growth == SIGN_NOT_KNOWN else ""
    return f"{name} {'+' if mode.real_1_s > 0.0 else ''}{number(mode.real_1_s, 2)}{sign}"


def _full(study: "LateralStudy") -> list[str]:
    reference = study.reference
    point = ", ".join(number(float(v)) for v in reference["moment_point_m"])
    parts = [
        f"reference area {number(reference['area_m2'])} m^2, span {number(reference['span_m'])} m,"
        f" moment point ({point}) m\nCl positive starboard wing down, Cn nose to starboard,"
        " sideslip wind from starboard:\nCl_beta < 0 is a stable dihedral effect, Cn_beta > 0"
        " weathercock stability",
        section("Level flight, per radian, body axes", _level(study.folds)).rstrip(),
        section("Cl_beta at fixed angles of attack", _fixed(study)).rstrip(),
        section(
            "Where Cl_beta comes from (parts add up to the total; last: what the wake's turn with"
            " sideslip has in it)",
            _shares(study.shares),
        ).rstrip(),
        section("Lateral modes, level flight", modes_table(study.modes, "lateral")).rstrip(),
        section(
            "Longitudinal modes, level flight", modes_table(study.modes, "longitudinal")
        ).rstrip(),
    ]
    if study.unlike_folds:
        parts.append(
            section("Modes of unlike folds, all motions coupled", _coupled(study.unlike_folds))
            .rstrip()
        )  # fmt: skip
    parts.append(section("Trim by level of modelling", _trims(study.rotors_must_add)).rstrip())
    parts.append(section("What the rotors' control must add", _aid(study.rotors_must_add)).rstrip())
    if any(row.rotors_can is not None for row in study.rotors_must_add):
        parts.append(wrapped(ROTORS_CAN))
    return [*parts, listed("Assumed", study.assumptions)]


def _level(rows: "Sequence[FoldRow]") -> str:
    heads = ["fold [deg]", "angle of attack [deg]", "CL", "Cl_beta", "dihedral effect", "Cn_beta",
             "weathercock", "CY_beta", "Cl_p", "Cn_p", "Cl_r", "Cn_r"]  # fmt: skip
    lines = []
    for row in rows:
        level = row.level
        if level is None or level.body is None:
            why = row.reason or (level.reason if level is not None and level.reason else "")
            lines.append([f"{row.fold_deg:g}", short(why)] + [""] * 10)
            continue
        joined = " (box joined)" if row.joined else ""
        lines.append(
            [
                f"{row.fold_deg:g}",
                number(level.alpha_deg, 3),
                number(level.CL, 3),
                with_error(level.body["Cl_beta"], level.half_width("Cl_beta")),
                f"{level.dihedral_effect}{joined}",
                with_error(level.body["Cn_beta"], level.half_width("Cn_beta")),
                _weathercock(level),
                *(
                    number(level.body[name], 3)
                    for name in ("CY_beta", "Cl_p", "Cn_p", "Cl_r", "Cn_r")
                ),
            ]
        )
    return table(heads, lines, left=0)


def _weathercock(level: "Derivatives") -> str:
    """The word of Cn_beta, and how large a body turns it where it is stable."""
    volume = level.body_turns_yaw_m3
    return f"{level.weathercock or ''}{'' if volume is None else f', body < {litres(volume)}'}"


def _fixed(study: "LateralStudy") -> str:
    heads = ["fold [deg]", *(f"alpha {alpha:g} deg" for alpha in study.state["alphas_deg"])]
    lines = [
        [f"{row.fold_deg:g}", *(_effect(at) for at in row.alphas or ())]
        for row in study.folds
        if row.reason is None
    ]
    return table(heads, lines, left=0)


def _effect(at: "Derivatives") -> str:
    assert at.body is not None
    value = with_error(at.body["Cl_beta"], at.half_width("Cl_beta"))
    return f"{value} {at.dihedral_effect}"


def _shares(shares: "Sequence[SharesRow]") -> str:
    heads = ["fold [deg]", "angle of attack [deg]", "fixed wings", "tips", "lift", "height",
             "sections", "drag areas", "rotors", "total", "wake turn"]  # fmt: skip
    lines = []
    for one in shares:
        if one.reason is not None:
            lines.append([f"{one.fold_deg:g}", short(one.reason)] + [""] * 9)
            continue
        numbers = [f"{getattr(one, name):+z.4f}" for name in SHARES]
        lines.append([f"{one.fold_deg:g}", number(one.alpha_deg, 3), *numbers])
    return table(heads, lines, left=0)


def mode_words(mode: "ModeRow") -> str:
    """A mode in short: what it does and how fast."""
    root = f"{with_error(mode.real_1_s, mode.real_half_width_1_s)} 1/s"
    pair = f"root {root}"
    if mode.frequency_rad_s is not None:
        damping = number(mode.damping_ratio, 2)
        pair = f"{number(mode.frequency_rad_s, 3)} rad/s, damping {damping}"
    if mode.growth == SIGN_NOT_KNOWN:
        said = "" if mode.frequency_rad_s is None else f" ({root})"
        return f"{pair}, whether it grows is not known{said}"
    for what, time in (("half", mode.half_time_s), ("double", mode.double_time_s)):
        if time is not None:  # ln 2 over the growth, so that both err by the same share
            error = time * mode.real_half_width_1_s / abs(mode.real_1_s)
            return f"{pair}, {what} in {with_error(time, error)} s"
    return f"{pair}, neutral"


def modes_table(rows: "Sequence[SettingModes]", block: str) -> str:
    """All modes of one block, a line each."""
    lines = []
    for row in rows:
        place = [f"{row.fold_left_deg:g}", f"{row.airspeed_m_s:g}"]
        found: ModeBlock | None = getattr(row, block)
        if found is None:
            lines.append([*place, short(row.reason or ""), ""])
            continue
        for mode in found.modes:
            lines.append([*place, mode.name, mode_words(mode)])
            place = ["", ""]
    return table(["fold [deg]", "airspeed [m/s]", "mode", ""], lines, left=4)


def _coupled(rows: "Sequence[SettingModes]") -> str:
    lines = []
    for row in rows:
        folds = f"port {row.fold_left_deg:g}, starboard {row.fold_right_deg:g} deg"
        if row.coupled is None:
            lines.append([row.name or "", folds, short(row.reason or "")])
            continue
        first = [row.name or "", folds]
        for mode in row.coupled.modes:
            lines.append([*first, mode_words(mode)])
            first = ["", ""]
    return table(["configuration", "folds", "mode"], lines, left=3)


def _trims(rows: "Sequence[AidRow]") -> str:
    heads = ["fold [deg]", "level of modelling", "angle of attack [deg]", "thrust [N]",
             "shaft power [W]", "pitching held [N m]", "stall margin [deg]"]  # fmt: skip
    lines = []
    for row in rows:
        place = f"{row.fold_deg:g}"
        for one in row.trims or ():
            numbers = (one.alpha_deg, one.thrust_N, one.shaft_power_W,
                       one.pitching_moment_held_N_m, one.stall_margin_deg)  # fmt: skip
            lines.append([place, one.modelling, *(number(v, 3) for v in numbers)])
            place = ""
    return table(heads, lines, left=2)


def _aid(rows: "Sequence[AidRow]") -> str:
    lines = []
    for row in rows:
        if row.reason is not None or row.yaw is None or row.pitch is None:
            lines.append(f"fold {row.fold_deg:g} deg: {short(row.reason or '')}")
            continue
        fast = row.pitch_fast_roots
        can = row.rotors_can
        lines += [
            f"fold {row.fold_deg:g} deg",
            f"  yaw: own stiffness {number(row.own_yaw_stiffness_N_m_rad, 3)} N m/rad, damping"
            f" {number(row.own_yaw_damping_N_m_s, 3)} N m s; {row.yaw.words}",
            *([f"    set by {'; '.join(row.yaw.set_by)}"] if row.yaw.set_by else []),
            f"  pitch: own stiffness {number(row.own_pitch_stiffness_N_m_rad, 3)} N m/rad;"
            f" {row.pitch.words}",
            *([f"    set by {'; '.join(row.pitch.set_by)}"] if row.pitch.set_by else []),
            *([f"    grows: {'; '.join(row.pitch.grows)}"] if row.pitch.grows else []),
            f"    the two fast roots alone: {fast.words if fast is not None else '-'}",
            f"    moment held in trim {number(row.trim_pitching_moment_N_m, 3)} N m; with airspeed"
            f" the air's changes by {number(row.pitching_with_speed_N_m_s_m, 3)} N m per m/s",
        ]
        if can is not None:
            lines.append(_rotors_can(can))
    return "\n".join(lines)


def _rotors_can(can: "RotorsCan") -> str:
    values = {"yaw": can.yaw_N_m, "pitch_down": can.pitch_down_N_m, "pitch_up": can.pitch_up_N_m,
              "roll": can.roll_N_m}  # fmt: skip
    yaw, down, up, roll = (
        with_error(value, can.half_widths_N_m.get(name)) for name, value in values.items()
    )
    unknown = "" if can.half_widths_N_m else ", ± not known"
    return f"  rotors can: yaw {yaw}, pitch {down} to {up}, roll {roll} N m{unknown}"
