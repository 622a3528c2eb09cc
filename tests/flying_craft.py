"""Craft with masses and drives for the checks of flight; all numbers invented."""

from typing import Any

import numpy as np

from vlm.description.actuator import Actuator
from vlm.description.mass import Mass, TipMass
from vlm.description.models import Arrangement, Biplane, Tips, Wing
from vlm.flight.craft.drag_bodies import DragBodies

TIP = TipMass(mass_kg=0.06, centre_m=(0.08, 0.12, 0.01), inertia_kg_m2=(5e-4, 1e-4, 6e-4))


def mass_of(**keys: Any) -> Mass:
    """A body of 1.8 kg at the quarter chord of the upper wing, with upper tips."""
    given: dict[str, Any] = {
        "body_kg": 1.8,
        "body_centre_m": (0.05, 0.0, 0.0),
        "body_inertia_kg_m2": (0.04, 0.03, 0.06),
        "upper_tip": TIP,
    }
    return Mass(**(given | keys))


def drive_of(**keys: Any) -> Actuator:
    """A quick servo on a worm of ratio 20."""
    given: dict[str, Any] = {
        "worm_ratio": 20.0,
        "lead_angle_deg": 4.0,
        "friction_dry": (0.12, 0.3),
        "friction_greased": (0.05, 0.1),
        "servo_stall_torque_N_m": 0.5,
        "servo_no_load_speed_deg_s": 1200.0,
        "servo_voltage_V": 7.4,
        "servo_no_load_current_A": 0.2,
        "servo_stall_current_A": 2.5,
        "servo_hold_current_A": 0.0,
        "backlash_deg": 0.5,
        "hinge_stiffness_N_m_rad": 20.0,
        "hinge_moment_limit_N_m": 4.0,
        "root_bending_limit_N_m": 10.0,
    }
    return Actuator(**(given | keys))


def tipped(span: float = 0.9, tip: float = 0.3, chord: float = 0.2, **tips: Any) -> Wing:
    """A rectangular wing, not cambered, with rectangular tips."""
    return Wing(
        span_m=span,
        root_chord_m=chord,
        end_chord_m=chord,
        tips=Tips(span_m=tip, end_chord_m=chord, **tips),
    )


def monoplane(
    span: float = 0.9, tip: float = 0.3, mass: Mass | None = None, **tips: Any
) -> Biplane:
    """One wing with tips."""
    return Biplane(
        title="A monoplane that folds",
        upper=tipped(span, tip, **tips),
        mass=mass or mass_of(),
        actuator=drive_of(),
    )


def biplane(**tips: Any) -> Biplane:
    """Two wings, tips on the upper one."""
    return Biplane(
        title="A biplane that folds",
        upper=tipped(**tips),
        lower=Wing(span_m=0.9, root_chord_m=0.2, end_chord_m=0.2),
        arrangement=Arrangement(gap_m=0.35),
        mass=mass_of(body_centre_m=(0.05, 0.0, -0.17)),
        actuator=drive_of(),
    )


def round_body(area_m2: float) -> DragBodies:
    """A body of the same drag area along every axis, at the centre of gravity."""
    return DragBodies(np.full((1, 3), area_m2), np.full((1, 3), np.nan))
