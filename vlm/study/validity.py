"""Doubts about a flight state: where the model behind the numbers ends."""

import numpy as np

from vlm.air import standard_air
from vlm.findings import Finding
from vlm.loads.state import FlightState

ATTACHED_LIMIT_DEG = 12.0
SIDESLIP_LIMIT_DEG = 10.0
RATE_LIMIT = 0.1
MACH_LIMIT = 0.3


def state_doubts(state: FlightState) -> list[Finding]:
    """Angles, rates and speeds beyond what linear, incompressible flow describes."""
    worst_alpha = float(np.degrees(np.max(np.abs(state.alpha))))
    worst_beta = float(np.degrees(np.max(np.abs(state.beta))))
    rates = [float(np.max(np.abs(r))) for r in (state.p_hat, state.q_hat, state.r_hat)]
    mach = float(np.max(state.airspeed)) / standard_air(0.0).speed_of_sound_m_s
    checks = [
        ("angle_of_attack", "angle of attack beyond attached flow", worst_alpha,
         ATTACHED_LIMIT_DEG, "deg", "the lattice knows no stall: use sections for stall"),
        ("sideslip", "sideslip beyond small angles", worst_beta, SIDESLIP_LIMIT_DEG, "deg",
         "the wake stays along the craft's axis: compare with --wake stream"),
        ("rate", "rate beyond quasi-steady flow", max(rates), RATE_LIMIT, "1",
         "ask for a smaller rate"),
        ("mach", "airspeed beyond incompressible flow", mach, MACH_LIMIT, "Mach",
         "the result leaves compressibility out"),
    ]  # fmt: skip
    return [
        Finding(code, what, value, limit, unit, "common practice", cure)
        for code, what, value, limit, unit, cure in checks
        if value > limit
    ]
