"""Whether tables of loads hold for a craft with fins in sideslip."""

import numpy as np

from vlm.description.models import Biplane
from vlm.findings import Finding
from vlm.loads.craft_loads import GeneralLoads
from vlm.loads.misses import sideslip_miss

OUTSIDE_TABLES = "fins_in_sideslip"
MOST_MISSED = 0.1
"""Share of rolling and yawing moment that tables may miss, common practice [1]."""
LEAST_SIDESLIP_DEG = 1.0
"""Below this no fin leaves the place to which its tables belong [deg]."""
MOST_SIDESLIP_DEG = 20.0


def sideslip_findings(
    craft: Biplane, loads: GeneralLoads, alpha: float, sideslip_deg: float
) -> list[Finding]:
    """A warning where tables miss what a craft with fins meets in sideslip.

    Parameters
    ----------
    alpha : angle of attack [rad]
    sideslip_deg : largest sideslip that the tables are read at [deg]
    """
    at = min(abs(sideslip_deg), MOST_SIDESLIP_DEG)
    if not craft.fins or not at > LEAST_SIDESLIP_DEG:
        return []
    miss = sideslip_miss(loads, alpha, float(np.radians(at)))
    if miss <= MOST_MISSED:
        return []
    return [
        Finding(
            OUTSIDE_TABLES,
            f"tables miss the rolling and yawing moment of a craft with fins at {at:.2g} deg of"
            " sideslip, over what is solved there",
            miss,
            MOST_MISSED,
            "1",
            "a direct solve; common practice",
            "do not act on what follows from sideslip here; point and sweep solve each --beta",
        )
    ]
