"""Sections of the studies of flight: lateral stability, roll, hinge and drive."""

from collections.abc import Callable
from functools import partial
from typing import Any

from vlm.show.airspeed_limits import servo_sentence
from vlm.show.page import escaped
from vlm.show.plots import hinge as hinge_plots
from vlm.show.plots import lateral as lateral_plots
from vlm.show.plots import roll as roll_plots
from vlm.show.report.parts import (
    FIGURE_SIZE,
    MAP_SIZE,
    TALL_SIZE,
    Section,
    bullets,
    carrying,
    figure,
    fold_out,
    opened,
    paragraph,
    table,
)
from vlm.show.sentences import (
    dihedral_sentence,
    gust_sentence,
    hinge_sentence,
    neutral_sentences,
    roll_sentence,
    root_sentence,
)
from vlm.show.text.layout import number, with_error
from vlm.study.hinge.results import HingeStudy
from vlm.study.lateral.results import LateralStudy
from vlm.study.report.data import ReportData
from vlm.study.roll.results import Authority, RollStudy

Draw = Callable[[Any], Any]


def _figures(
    ident: str, said: str, command: str, drawings: dict[str, tuple[Draw, tuple[float, float]]]
) -> str:
    """What is said, with figures by caption, the first two in sight."""
    return carrying(
        said,
        [
            figure(f"{ident}-{i}", caption, command, draw, size)
            for i, (caption, (draw, size)) in enumerate(drawings.items())
        ],
    )


def lateral(data: ReportData) -> Section | None:
    """Dihedral effect and modes of motion."""
    study = data.lateral
    if study is None:
        return None
    command = data.plan.command("lateral", "--plot lateral.png")
    drawn: dict[str, tuple[Draw, tuple[float, float]]] = {
        "Dihedral effect against fold; level flight with its error, and fixed angles of attack.":
            (partial(lateral_plots.dihedral_curves, study=study), FIGURE_SIZE),
        "Other lateral derivatives in level flight.":
            (partial(lateral_plots.derivative_curves, study=study), FIGURE_SIZE),
        "Where the dihedral effect comes from.":
            (partial(lateral_plots.share_bars, study=study), FIGURE_SIZE),
        "What the rotors' control must add in yaw.":
            (partial(lateral_plots.aid_curves, study=study), FIGURE_SIZE),
        "Lateral roots in level flight: right of the axis they grow.":
            (partial(lateral_plots.root_locus, study=study, motions="lateral"), TALL_SIZE),
        "Longitudinal roots in level flight.":
            (partial(lateral_plots.root_locus, study=study, motions="longitudinal"), TALL_SIZE),
    }  # fmt: skip
    said = paragraph(
        f"{' '.join((dihedral_sentence(study), *neutral_sentences(study)))}"
        " A negative Cl_beta is a stable dihedral effect."
        " What the rotors' control must supply in yaw and pitch stands in the last table."
    )
    body = [
        _figures("lateral", said, command, drawn),
        fold_out("Tables and assumptions", _level_table(study), _aid_table(study),
                 bullets(study.assumptions)),
    ]  # fmt: skip
    return Section("lateral", "Lateral stability", "".join(body))


def _level_table(study: LateralStudy) -> str:
    names = ("Cl_beta", "Cn_beta", "Cl_p", "Cn_r", "Cl_r", "Cn_p")
    rows = []
    for row in study.folds:
        level = row.level
        if level is None or level.body is None:
            why = row.reason or (level.reason if level is not None else "") or ""
            rows.append([f"{row.fold_deg:g}", "-", *("-" for _ in names), why])
            continue
        cells = [with_error(level.body[name], level.half_width(name)) for name in names]
        rows.append(
            [f"{row.fold_deg:g}", number(level.alpha_deg, 3), *cells, level.dihedral_effect or ""]
        )
    heads = ["fold [deg]", "angle of attack [deg]", *names, "dihedral effect"]
    return table("Derivatives in level flight, body axes, per radian", heads, rows)


def _aid_table(study: LateralStudy) -> str:
    rows = []
    for row in study.rotors_must_add:
        yaw, pitch = (axis.words if axis is not None else "" for axis in (row.yaw, row.pitch))
        rows.append([f"{row.fold_deg:g}", row.reason or yaw, pitch])
    heads = ["fold [deg]", "in yaw", "in pitch"]
    return table("What control by the rotors must add", heads, rows)


def roll(data: ReportData) -> Section | None:
    """Roll by folding one tip against the other."""
    study = data.roll
    if study is None:
        return None
    command = data.plan.command("roll", f"--step {data.plan.step_deg:g} --plot roll.png")

    def moments(axes: Any) -> Any:
        roll_plots.moment_map(axes, study, "rolling_moment_N_m")
        return roll_plots.pairs_on_map(axes, study)

    drawn: dict[str, tuple[Draw, tuple[float, float]]] = {
        "Rolling moment over both folds with lift held; starboard wing down is positive.":
            (moments, MAP_SIZE),
        "Yawing moment that comes with it; nose to starboard is positive.":
            (partial(roll_plots.moment_map, study=study, key="yawing_moment_N_m"),
             MAP_SIZE),
        "Rolling moment against the size of a command.":
            (partial(roll_plots.command_curves, study=study), FIGURE_SIZE),
        "Authority against airspeed.":
            (partial(roll_plots.authority_curves, study=study), FIGURE_SIZE),
        "Bank against time after the command for the strongest pair.":
            (partial(roll_plots.bank_histories, study=study), FIGURE_SIZE),
    }  # fmt: skip
    details = fold_out("Table and assumptions", _airspeed_table(study), bullets(study.assumptions))
    body = [_figures("roll", paragraph(roll_sentence(study)), command, drawn), details]
    return Section("roll", "Roll authority", "".join(body))


def _airspeed_table(study: RollStudy) -> str:
    heads = ["airspeed [m/s]", "angle of attack [deg]", "strongest pair [N m]", "says",
             "rate [deg/s]", "both apart 20° [N m]", "says", "rate [deg/s]",
             "rotors, either way [N m]"]  # fmt: skip
    against = (study.rotors.airspeeds if study.rotors is not None else None) or ()
    rotors = {round(one.airspeed_m_s, 3): one.rotors_N_m for one in against}
    rows = []
    for row in study.airspeeds:
        cells = [f"{row.airspeed_m_s:g}"]
        if row.reason is not None:
            cells += [row.reason, *[""] * 6]
        else:
            cells += [number(row.alpha_deg, 3)]
            for at in (row.strongest, row.both_apart_20_deg):
                cells += _authority_cells(at)
        rows.append([*cells, number(rotors.get(round(row.airspeed_m_s, 3)), 3)])
    return table("Roll authority against airspeed, lift held", heads, rows)


def _authority_cells(at: Authority | None) -> list[str]:
    """Rolling moment with its error, what its sign says, and the rate of roll."""
    if at is None:
        return ["-"] * 3
    moment = with_error(at.rolling_moment_N_m, at.half_width_N_m)
    return [moment, at.sense, with_error(at.roll_rate_deg_s, at.roll_rate_half_width_deg_s)]


def hinge(data: ReportData) -> Section | None:
    """What hinge, worm gear, servo and wings carry."""
    study = data.hinge
    if study is None:
        return None
    command = data.plan.command("hinge", "--plot hinge.png")
    speeds = sorted({row.airspeed_m_s for row in study.moments})
    nearest = min(speeds, key=lambda v: abs(v - study.state["airspeed_m_s"]))
    drawn: dict[str, tuple[Draw, tuple[float, float]]] = {
        "Hinge moment against airspeed, with what servo and hinge stand.":
            (partial(hinge_plots.moment_against_airspeed, study=study), FIGURE_SIZE),
        "Parts of the hinge moment against fold at load factor 1.":
            (partial(hinge_plots.moment_parts, study=study, factor=1.0, speed=nearest),
             FIGURE_SIZE),
        "Efficiency of the worm gear both ways against friction.":
            (partial(hinge_plots.worm_curves, study=study), FIGURE_SIZE),
        "Bending moment along the folded upper wing.":
            (partial(hinge_plots.wing_loads, study=study, words=hinge_plots.BENDING), FIGURE_SIZE),
    }  # fmt: skip
    sentences = (hinge_sentence(study), gust_sentence(study), servo_sentence(study.limits),
                 root_sentence(study))  # fmt: skip
    said = paragraph(" ".join(one for one in sentences if one))
    said += f'<p class="caution">{escaped(opened(study.worm.caution))}.</p>'
    body = [
        _figures("hinge", said, command, drawn),
        fold_out("Table and assumptions", _moves_table(study),
                 bullets(study.assumptions)),
    ]  # fmt: skip
    return Section("hinge", "Hinge loads and drive", "".join(body))


def _moves_table(study: HingeStudy) -> str:
    heads = ["move", "from [deg]", "to [deg]", "shortest time [s]", "longest time [s]",
             "energy, all servos [J]", "peak servo torque [N m]", "note"]  # fmt: skip
    rows = []
    for move in study.folding:
        ends = [move.name, number(move.from_deg, 3), number(move.to_deg, 3)]
        least, most = move.least_friction, move.greatest_friction
        if least is None or most is None:
            rows.append([*ends, *["-"] * 4, move.reason or ""])
            continue
        stalls = most.stalls_at_deg
        rows.append([*ends, number(least.time_s, 3), number(most.time_s, 3),
                     number(most.energy_all_servos_J, 3), number(most.peak_torque_N_m, 3),
                     "" if stalls is None else f"servo stalls at {stalls:.0f}°"])  # fmt: skip
    return table("Folding, lowest and highest friction", heads, rows)
