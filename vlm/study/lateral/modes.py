"""Modes of motion against fold and airspeed, and what the rotors' control must add."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from vlm.constants import Floats
from vlm.description.folds import FoldAngles
from vlm.errors import FoldspanError
from vlm.findings import Finding
from vlm.flight.craft.folded_craft import FoldedCraft
from vlm.flight.craft.folding_craft import FoldingCraft
from vlm.flight.craft.level import LevelFlight, level_flight
from vlm.flight.craft.model_spread import corner_spread
from vlm.flight.craft.modelling import Modelling
from vlm.flight.craft.rotor_rates import motions_with_rotors
from vlm.flight.craft.small_motions import (
    COUPLED,
    LATERAL,
    LONGITUDINAL,
    MatrixOf,
    OpenMotion,
    coupled_matrix,
    lateral_matrix,
    longitudinal_matrix,
)
from vlm.flight.craft.stalled import stalled_rates
from vlm.flight.motion.aid import (
    AidBoundary,
    failing_in_pitch,
    failing_in_yaw,
    fast_pitch_boundary,
    growing_in_pitch,
    pitch_boundary,
    pitch_is_needed,
    yaw_boundary,
    yaw_is_needed,
)
from vlm.flight.motion.modes import Mode, coupled_modes, lateral_modes, longitudinal_modes
from vlm.flight.motion.roll_authority import TOO_SLOW, Air
from vlm.flight.trim.condition import FlightCondition, FlightConditions, has_trim
from vlm.loads.model_spread import wake_spread
from vlm.loads.state import FlightState
from vlm.plain import plus_minus
from vlm.study.lateral.results import (
    Aid,
    AidRow,
    ModeBlock,
    ModeRow,
    RotorsCan,
    SettingModes,
    TrimRow,
)
from vlm.study.level_flights import flight_document
from vlm.study.point.errors import half_width
from vlm.study.point.slipstream import Slipstreams
from vlm.verdicts import SIGN_NOT_KNOWN, verdict

SIDESLIP_DEG = 5.0


@dataclass(frozen=True)
class Crafts:
    """The craft on its lattice and, without sections, on a coarser one for errors.

    Attributes
    ----------
    slipstreams : gives the slipstream of a setting
    """

    fine: FoldingCraft
    rough: FoldingCraft
    slipstreams: Slipstreams

    def at(self, folds: FoldAngles, airspeed: float) -> FoldedCraft:
        """The craft at a setting, in its own slipstream where one is asked for."""
        return self.slipstreams.over(self.fine, folds, airspeed).at(folds)


def mode_row(mode: Mode, states: Sequence[str]) -> ModeRow:
    """One mode with the verdict on its growth."""
    return ModeRow(
        name=mode.name,
        real_1_s=mode.root.real,
        imaginary_1_s=mode.root.imag,
        real_half_width_1_s=mode.growth_error,
        growth=verdict(mode.root.real, mode.growth_error, "grows", "decays", "stays"),
        participation=dict(zip(states, mode.participation, strict=True)),
        frequency_rad_s=mode.frequency if mode.oscillates else None,
        damping_ratio=mode.damping if mode.oscillates else None,
        period_s=mode.period,
        half_time_s=mode.half_time,
        double_time_s=mode.double_time,
    )


def rates_half_width(crafts: Crafts, folds: FoldAngles, flight: LevelFlight) -> Floats:
    """Half-widths of the rates of the air's loads: a coarser lattice, what the model leaves open.

    shape (6, 6). Wake, corners and stalled sections; the wake's share is known for the moments
    with sideslip.
    """
    fine, rough = crafts.fine.at(folds), crafts.rough.at(folds)
    here, there = (
        craft.lattice_rates(flight.motion, flight.density)[:, :6] for craft in (fine, rough)
    )
    width = np.array(half_width(here, there, np.abs(here), crafts.fine.engine.grid))
    spread = wake_spread(fine.loads, FlightState(alpha=flight.alpha))
    reference = fine.loads.reference
    scale = flight.dynamic_pressure * reference.area * reference.span / flight.airspeed
    width[3, 1] += scale * float(spread["Cl_beta"])
    width[5, 1] += scale * float(spread["Cn_beta"])
    width += stalled_rates(crafts.at(folds, flight.airspeed), flight)[:, :6]
    return width + corner_spread(
        fine, lambda one: one.lattice_rates(flight.motion, flight.density)[:, :6]
    )


def open_motion(crafts: Crafts, folds: FoldAngles, flight: LevelFlight) -> OpenMotion:
    """Small motions about level flight, controls fixed, and what is open in their rates."""
    craft = crafts.at(folds, flight.airspeed)
    own, ends = motions_with_rotors(crafts.fine.craft, craft, flight)
    return OpenMotion(own, rates_half_width(crafts, folds, flight), ends)


def motion_blocks(crafts: Crafts, folds: FoldAngles, flight: LevelFlight) -> dict[str, ModeBlock]:
    """State matrices and modes of level flight.

    Unlike folds on the two sides couple longitudinal and lateral motion: then the coupled matrix
    is the one to use, and the two blocks are given for comparison.
    """
    motion = open_motion(crafts, folds, flight)
    kinds: dict[str, tuple[tuple[str, ...], MatrixOf, Callable[..., list[Mode]]]] = {
        "longitudinal": (LONGITUDINAL, longitudinal_matrix, longitudinal_modes),
        "lateral": (LATERAL, lateral_matrix, lateral_modes),
    }
    if not folds.is_symmetric:
        kinds["coupled"] = (COUPLED, coupled_matrix, coupled_modes)
    return {
        name: ModeBlock(
            states,
            matrix_of(motion.motion),
            tuple(mode_row(one, states) for one in modes(*motion.matrices(matrix_of, states))),
        )
        for name, (states, matrix_of, modes) in kinds.items()
    }


def setting_modes(
    crafts: Crafts, folds: FoldAngles, airspeed: float, density: float, name: str | None = None
) -> SettingModes:
    """Level flight, matrices and modes at one setting and airspeed, or why there are none."""
    place = (folds.left_deg, folds.right_deg, airspeed, name)
    try:
        craft = crafts.at(folds, airspeed)
    except FoldspanError as error:
        return SettingModes(*place, reason=str(error))
    flight = level_flight(craft, airspeed, density)
    if flight is None:
        return SettingModes(*place, reason=TOO_SLOW)
    blocks = motion_blocks(crafts, folds, flight)
    return SettingModes(
        *place,
        flight=flight_document(craft, flight),
        longitudinal=blocks["longitudinal"],
        lateral=blocks["lateral"],
        coupled=blocks.get("coupled"),
    )


def mode_rows(
    crafts: Crafts, folds_deg: Sequence[float], airspeeds: Sequence[float], density: float
) -> tuple[SettingModes, ...]:
    """:func:`setting_modes` of every symmetric fold at every airspeed."""
    return tuple(
        setting_modes(crafts, FoldAngles.symmetric(fold), speed, density)
        for fold in folds_deg
        for speed in airspeeds
    )


NAMED_GROWTHS = 3
"""Kinds of growing modes whose rate and place stand in a warning; the rows hold those of all."""


def growing(rows: Sequence[SettingModes]) -> list[Finding]:
    """Modes that grow, and those that may: one finding each, which names every mode.

    Of unlike folds the coupled motion counts, whose modes bear no names, under its configuration.
    """
    worst: dict[str, dict[str, list[tuple[ModeRow, SettingModes]]]] = {}
    for row in rows:
        blocks = (row.longitudinal, row.lateral) if row.coupled is None else (row.coupled,)
        for block in blocks:
            for mode in block.modes if block is not None else ():
                if mode.growth in ("grows", SIGN_NOT_KNOWN):
                    name = mode.name if row.coupled is None else "coupled motion"
                    found = worst.setdefault(mode.growth, {}).setdefault(name, [])
                    found.append((mode, row))
    return [
        _growing(growth, worst[growth]) for growth in ("grows", SIGN_NOT_KNOWN) if growth in worst
    ]


def _growing(growth: str, named: Mapping[str, list[tuple[ModeRow, SettingModes]]]) -> Finding:
    """One finding of modes by name: rate of growth [1/s], where it is fastest, and settings."""
    fastest = {name: max(found, key=lambda one: one[0].real_1_s) for name, found in named.items()}
    settings = {name: len({id(row) for _, row in found}) for name, found in named.items()}
    ordered = sorted(fastest, key=lambda name: -fastest[name][0].real_1_s)
    listed = "; ".join(
        f"{name}, fastest at {_setting_words(fastest[name][1])}: {_rate(fastest[name][0])}"
        f" ({settings[name]} {'setting' if settings[name] == 1 else 'settings'})"
        for name in ordered[:NAMED_GROWTHS]
    )
    if more := ordered[NAMED_GROWTHS:]:
        listed += f"; more slowly: {', '.join(f'{name} ({settings[name]})' for name in more)}"
    grows = growth == "grows"
    return Finding(
        "mode_grows" if grows else "mode_growth_not_known",
        f"{'modes grow' if grows else 'modes may grow, the sign is not known'}: {listed}; the"
        " fastest rate of growth",
        fastest[ordered[0]][0].real_1_s,
        None,
        "1/s",
        "roots in level flight, controls fixed",
        f"the rotors' control must hold them{'' if grows else ' if they grow'}; see what they must"
        " add (lateral --full)",
        sum(settings.values()),
        fastest[ordered[0]][0].real_half_width_1_s,
    )


def _rate(mode: ModeRow) -> str:
    return plus_minus(mode.real_1_s, mode.real_half_width_1_s, "1/s")


def _setting_words(row: SettingModes) -> str:
    folds = f"fold {row.fold_left_deg:.3g} deg" if row.name is None else f"configuration {row.name}"
    return f"{folds} and {row.airspeed_m_s:g} m/s"


def aid_row(crafts: Crafts, conditions: FlightConditions, fold: float, air: Air) -> AidRow:
    """What control must add in yaw and in pitch at one fold, in numbers and in words."""
    folds = FoldAngles.symmetric(fold)
    try:
        craft = crafts.at(folds, air.airspeed)
    except FoldspanError as error:
        return AidRow(fold, reason=str(error))
    flight = level_flight(craft, air.airspeed, air.density)
    if flight is None:
        return AidRow(fold, reason=TOO_SLOW)
    unsure = open_motion(crafts, folds, flight)
    motion = unsure.motion
    needs = {
        "yaw": yaw_is_needed(unsure),
        "pitch": pitch_is_needed(unsure),
        "fast": pitch_is_needed(unsure, slow=False),
    }
    trims = _trims(conditions, folds, air.airspeed)
    full = trims.get(Modelling.ROTORS)
    return AidRow(
        fold_deg=fold,
        own_yaw_stiffness_N_m_rad=float(motion.rates[5, 1]) * air.airspeed,
        own_yaw_damping_N_m_s=-float(motion.rates[5, 5]),
        own_pitch_stiffness_N_m_rad=-float(motion.rates[4, 2]) * air.airspeed,
        own_pitch_damping_N_m_s=-float(motion.rates[4, 4]),
        yaw=_aid(yaw_boundary(motion), needs["yaw"], "yaw", failing_in_yaw(motion)),
        pitch=_aid(
            pitch_boundary(motion),
            needs["pitch"],
            "pitch",
            failing_in_pitch(motion),
            growing_in_pitch(motion),
        ),
        pitch_fast_roots=_aid(fast_pitch_boundary(motion), needs["fast"], "pitch", []),
        pitching_with_speed_N_m_s_m=_with_speed(craft, flight),
        trim_pitching_moment_N_m=-float(flight.wrench[4]),
        trims=tuple(_trim_row(one) for one in trims.values()),
        rotors_can=None if full is None else _rotors_can(conditions, full),
    )


def _with_speed(craft: FoldedCraft, flight: LevelFlight) -> float:
    """Rate of the pitching moment with airspeed at a constant angle of attack, thrust and the
    rotors' own moment held [N m per m/s]."""
    rates = craft.rates(flight.motion, flight.density)[4, :3]
    return float(rates @ flight.motion[:3]) / flight.airspeed


def _trims(
    conditions: FlightConditions, folds: FoldAngles, airspeed: float
) -> dict[Modelling, FlightCondition]:
    levels: list[Modelling] = [Modelling.WING, Modelling.SECTIONS]
    if has_trim(conditions.craft):
        levels.append(Modelling.ROTORS)
    found = {level: conditions.at(folds, airspeed, level) for level in levels}
    # Without sections in the file both wing levels are one.
    return {one.modelling: one for one in found.values() if one is not None}


def _trim_row(one: FlightCondition) -> TrimRow:
    return TrimRow(
        modelling=one.modelling,
        alpha_deg=float(np.degrees(one.alpha)),
        thrust_N=one.thrust,
        shaft_power_W=one.shaft_power,
        pitching_moment_held_N_m=float(one.moments[1]),
        stall_margin_deg=float(np.degrees(one.stall_margin)),
    )


def _rotors_can(conditions: FlightConditions, full: FlightCondition) -> RotorsCan | None:
    moments = full.rotors
    if moments is None:
        return None
    widths = conditions.rotor_half_widths(full)
    names = {"roll": "roll", "pitch": "pitch", "yaw": "yaw", "pitch_up": "pitch highest",
             "pitch_down": "pitch lowest"}  # fmt: skip
    reaches = (moments.roll, moments.pitch, moments.yaw)
    return RotorsCan(
        thrust_N=moments.thrust,
        roll_N_m=moments.roll.either_way,
        pitch_N_m=moments.pitch.either_way,
        yaw_N_m=moments.yaw.either_way,
        pitch_up_N_m=moments.pitch.highest,
        pitch_down_N_m=moments.pitch.lowest,
        stopped_by={reach.axis: reach.stopped_by[0] for reach in reaches},
        half_widths_N_m={name: widths[key] for name, key in names.items() if key in widths},
    )


def _aid(
    boundary: AidBoundary,
    needed: bool | None,
    axis: str,
    failing: Sequence[Mode],
    slowly: Sequence[Mode] = (),
) -> Aid:
    least, words = boundary.least(), _words(boundary, axis)
    if needed is None:
        words = (
            f"not known whether any is needed in {axis}, as the modes' ± reaches across a"
            f" criterion; by their values {words}"
        )
    return Aid(
        stiffness_N_m_rad=boundary.stiffness,
        damping_N_m_s=boundary.damping,
        needed=needed,
        set_by=tuple(_failing_words(mode) for mode in failing),
        grows=tuple(_failing_words(mode) for mode in slowly),
        least_stiffness_N_m_rad=None if least is None else least[0],
        with_damping_N_m_s=None if least is None else least[1],
        moment_at_5_deg_N_m=None if least is None else least[0] * float(np.radians(SIDESLIP_DEG)),
        words=words,
    )


def _failing_words(mode: Mode) -> str:
    if mode.double_time is not None:
        return f"{mode.name}, doubles in {mode.double_time:.2g} s"
    return f"{mode.name}, damping {mode.damping:.2g}"


def _words(boundary: AidBoundary, axis: str) -> str:
    least = boundary.least()
    if not boundary.is_needed:
        return f"none needed in {axis}: the modes meet the criteria by themselves"
    if least is None:
        return f"no stiffness and damping in {axis} alone is enough; another axis must help"
    stiffness, damping = least
    if stiffness == 0.0:
        return f"damping of {damping:.2g} N m s in {axis}"
    moment = stiffness * float(np.radians(SIDESLIP_DEG))
    return (
        f"stiffness of {stiffness:.2g} N m/rad in {axis} ({moment:.2g} N m at"
        f" {SIDESLIP_DEG:g} deg) with damping of {damping:.2g} N m s"
    )
