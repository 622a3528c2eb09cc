"""Modes of motion against fold and airspeed, and what the rotors' control must add."""

from collections.abc import Callable, Sequence
from typing import Any

import numpy as np

from vlm.constants import Floats
from vlm.description.folds import FoldAngles
from vlm.errors import FoldspanError
from vlm.flight.craft.folded_craft import FoldedCraft, FoldingCraft
from vlm.flight.craft.level import LevelFlight, level_flight, small_motion
from vlm.flight.craft.small_motions import (
    COUPLED,
    LATERAL,
    LONGITUDINAL,
    coupled_matrix,
    lateral_matrix,
    longitudinal_matrix,
)
from vlm.flight.motion.aid import AidBoundary, pitch_boundary, yaw_boundary
from vlm.flight.motion.modes import Mode, coupled_modes, lateral_modes, longitudinal_modes
from vlm.flight.motion.roll_authority import TOO_SLOW, Air
from vlm.flight.motion.roll_contest import trim_thrusts
from vlm.flight.motion.rotor_moments import rotor_moments
from vlm.study.roll_study import flight_document

SIDESLIP_DEG = 5.0


def mode_document(mode: Mode) -> dict[str, Any]:
    """One mode."""
    return {
        "name": mode.name,
        "real_1_s": mode.root.real,
        "imaginary_1_s": mode.root.imag,
        "frequency_rad_s": mode.frequency if mode.oscillates else None,
        "damping_ratio": mode.damping if mode.oscillates else None,
        "period_s": mode.period,
        "half_time_s": mode.half_time,
        "double_time_s": mode.double_time,
    }


def motion_document(craft: FoldedCraft, flight: LevelFlight) -> dict[str, Any]:
    """State matrices and modes of level flight.

    Unlike folds on the two sides couple longitudinal and lateral motion: then the coupled matrix
    is the one to use, and the two blocks are given for comparison.
    """
    motion = small_motion(craft, flight)
    blocks: dict[str, tuple[tuple[str, ...], Floats, Callable[[Floats], list[Mode]]]] = {
        "longitudinal": (LONGITUDINAL, longitudinal_matrix(motion), longitudinal_modes),
        "lateral": (LATERAL, lateral_matrix(motion), lateral_modes),
    }
    if not craft.loads.lattice.commanded.is_symmetric:
        blocks["coupled"] = (COUPLED, coupled_matrix(motion), coupled_modes)
    return {
        name: {
            "states": list(states),
            "matrix": matrix.tolist(),
            "modes": [mode_document(mode) for mode in modes(matrix)],
        }
        for name, (states, matrix, modes) in blocks.items()
    }


def setting_modes(
    folding: FoldingCraft, folds: FoldAngles, airspeed: float, density: float
) -> dict[str, Any]:
    """Level flight, matrices and modes at one setting and airspeed, or why there are none."""
    row: dict[str, Any] = {
        "fold_left_deg": folds.left_deg,
        "fold_right_deg": folds.right_deg,
        "airspeed_m_s": airspeed,
    }
    try:
        craft = folding.at(folds)
    except FoldspanError as error:
        return row | {"reason": str(error)}
    flight = level_flight(craft, airspeed, density)
    if flight is None:
        return row | {"reason": TOO_SLOW}
    return row | {"flight": flight_document(craft, flight)} | motion_document(craft, flight)


def mode_rows(
    folding: FoldingCraft, folds_deg: Sequence[float], airspeeds: Sequence[float], density: float
) -> list[dict[str, Any]]:
    """:func:`setting_modes` of every symmetric fold at every airspeed."""
    return [
        setting_modes(folding, FoldAngles.symmetric(fold), speed, density)
        for fold in folds_deg
        for speed in airspeeds
    ]


def yaw_document(folding: FoldingCraft, fold: float, air: Air) -> dict[str, Any]:
    """What control must add in yaw and in pitch at one fold, in numbers and in words."""
    try:
        craft = folding.symmetric(fold)
    except FoldspanError as error:
        return {"fold_deg": fold, "reason": str(error)}
    flight = level_flight(craft, air.airspeed, air.density)
    if flight is None:
        return {"fold_deg": fold, "reason": TOO_SLOW}
    motion = small_motion(craft, flight)
    own_yaw = float(motion.rates[5, 1]) * air.airspeed
    own_pitch = float(motion.rates[4, 2]) * air.airspeed
    return {
        "fold_deg": fold,
        "own_yaw_stiffness_N_m_rad": own_yaw,
        "own_yaw_damping_N_m_s": -float(motion.rates[5, 5]),
        "own_pitch_stiffness_N_m_rad": -own_pitch,
        "own_pitch_damping_N_m_s": -float(motion.rates[4, 4]),
        "yaw": _boundary(yaw_boundary(motion), "yaw"),
        "pitch": _boundary(pitch_boundary(motion), "pitch"),
        "trim_pitching_moment_N_m": -float(flight.wrench[4]),
        "rotors_can": _available(folding, craft, flight),
    }


def _available(
    folding: FoldingCraft, craft: FoldedCraft, flight: LevelFlight
) -> dict[str, float] | None:
    """Largest moments of the rotors with the trim thrust held, or None without rotors."""
    described, folds = folding.craft, craft.loads.lattice.commanded
    thrusts = trim_thrusts(described, folds, flight.airspeed, flight.density)
    if thrusts is None:
        return None
    moments = rotor_moments(
        described.rotors, flight, float(thrusts.sum()), craft.masses.centre, described.folder
    )
    if moments is None:
        return None
    return {
        "thrust_N": moments.thrust,
        "roll_N_m": moments.roll,
        "pitch_N_m": moments.pitch,
        "yaw_N_m": moments.yaw,
    }


def _boundary(boundary: AidBoundary, axis: str) -> dict[str, Any]:
    least = boundary.least()
    return {
        "stiffness_N_m_rad": boundary.stiffness.tolist(),
        "damping_N_m_s": boundary.damping.tolist(),
        "needed": boundary.is_needed,
        "least_stiffness_N_m_rad": None if least is None else least[0],
        "with_damping_N_m_s": None if least is None else least[1],
        "moment_at_5_deg_N_m": None if least is None else least[0] * float(np.radians(5.0)),
        "words": _words(boundary, axis),
    }


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
