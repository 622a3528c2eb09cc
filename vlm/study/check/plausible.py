"""Numbers of a file that do not go together: warnings that need the craft as a whole."""

from math import sqrt

import numpy as np

from vlm.air import standard_air
from vlm.constants import GRAVITY, SEA_LEVEL_DENSITY, Floats
from vlm.description.models import Biplane
from vlm.description.section_table import section_curves
from vlm.findings import Finding
from vlm.lattice.cellule import Cellule
from vlm.study.check.hover import LEFT_OPEN

HOVER_RESERVE = 1.3
CL_RANGE = (0.3, 1.0)


def plausibility_findings(
    craft: Biplane, cellule: Cellule, thrust_N: float | None
) -> list[Finding]:
    """Warnings about hover, balance, inertia and Reynolds numbers.

    Parameters
    ----------
    thrust_N : highest thrust at rest; None where it is not known
    """
    return [
        *_hover(craft, thrust_N),
        *_bodies(craft, cellule),
        *_reynolds(craft, cellule),
    ]


def _hover(craft: Biplane, thrust: float | None) -> list[Finding]:
    if thrust is None or craft.mass is None:
        return []
    ratio = thrust / (craft.mass.total_kg * GRAVITY)
    if ratio < 1.0 - LEFT_OPEN:
        return [Finding(
            "no hover", "the rotors cannot carry the craft at rest: thrust over weight", ratio, 1.0,
            "1", "equilibrium in hover", "check mass, thrust_max_N, power_max_W and radius_m",
        )]  # fmt: skip
    if ratio < HOVER_RESERVE:
        return [Finding(
            "hover reserve", "little or no thrust is left for control in hover: thrust over weight",
            ratio, HOVER_RESERVE, "1", "common practice", "take stronger rotors, or less mass",
        )]  # fmt: skip
    return []


def _bodies(craft: Biplane, cellule: Cellule) -> list[Finding]:
    """Inertia that no body of this size can have, and a balance outside the craft."""
    if craft.mass is None:
        return []
    points = _points(craft, cellule)
    centre = np.array(craft.mass.body_centre_m)
    found = []
    low, high = points.min(axis=0), points.max(axis=0)
    for name, value, least, most in zip("xyz", centre, low, high, strict=True):
        if not least <= value <= most:
            found.append(Finding(
                f"balance outside: {name}", f"mass.body_centre_m: {name} lies outside the craft",
                float(value), float(least if value < least else most), "m",
                "extent of wings and rotors", "check the axes (x aft, z up) and the unit",
            ))  # fmt: skip
    away = np.maximum(np.abs(low - centre), np.abs(high - centre))
    for index, name in enumerate("xyz"):
        others = [i for i in range(3) if i != index]
        limit = craft.mass.body_kg * float(away[others] @ away[others])
        inertia = craft.mass.body_inertia_kg_m2[index]
        if inertia > limit:
            found.append(Finding(
                f"inertia beyond size: {name}",
                f"mass.body_inertia_kg_m2: no body of this size has that about {name}", inertia,
                limit, "kg m^2", "all mass at the farthest corner of wings and rotors",
                "check the unit: kg m^2, not g or mm",
            ))  # fmt: skip
    return found


def _points(craft: Biplane, cellule: Cellule) -> Floats:
    """Nodes of the wings with the tips flat and centres of the rotors, shape (points, 3) [m]."""
    nodes = [patch.nodes.reshape(-1, 3) for patch in cellule.patches]
    mirrored = [table * np.array([1.0, -1.0, 1.0]) for table in nodes]
    rotors = [np.array(rotor.position_m)[None, :] for rotor in craft.rotors]
    return np.concatenate([*nodes, *mirrored, *rotors])


def flown_speeds(craft: Biplane, area_m2: float) -> tuple[float, float] | None:
    """Airspeeds of the schedule, else those of lift coefficients 1.0 and 0.3 [m/s]."""
    if craft.schedule is not None:
        return max(craft.schedule.airspeed_min_m_s, 1e-3), craft.schedule.airspeed_max_m_s
    if craft.mass is None:
        return None
    weight = craft.mass.total_kg * GRAVITY
    slow, fast = (
        sqrt(2.0 * weight / (SEA_LEVEL_DENSITY * area_m2 * lift)) for lift in reversed(CL_RANGE)
    )
    return slow, fast


def _reynolds(craft: Biplane, cellule: Cellule) -> list[Finding]:
    """Sections whose tables do not reach the Reynolds numbers that the craft flies at."""
    speeds = flown_speeds(craft, cellule.reference.area)
    if speeds is None:
        return []
    viscosity = standard_air().kinematic_viscosity_m2_s
    found = []
    for name, section in craft.sections.items():
        chords = _chords(craft, cellule, name)
        if section.table is None or not chords:
            continue
        known = [c.reynolds for c in section_curves(section.table, craft.folder) if c.reynolds]
        if not known:
            continue
        flown = speeds[0] * min(chords) / viscosity, speeds[1] * max(chords) / viscosity
        outside = [(flown[0], min(known))] if flown[0] < min(known) else []
        outside += [(flown[1], max(known))] if flown[1] > max(known) else []
        found += [
            Finding(
                f"Reynolds number outside: {name}",
                f"sections.{name}: flown {'below' if value < limit else 'above'} its table's"
                " Reynolds numbers, the nearest of which is used", value, limit, "1",
                f"the table, at {speeds[0]:.3g} to {speeds[1]:.3g} m/s",
                "add polars at those Reynolds numbers",
            )
            for value, limit in outside
        ]  # fmt: skip
    return found


def _chords(craft: Biplane, cellule: Cellule, section: str) -> list[float]:
    """Least and highest chord of every place that a section serves [m]."""
    places = {place for place, name in craft.named_sections.items() if name == section}
    chords: list[float] = []
    for patch in cellule.patches:
        if patch.place in places:
            chords += [float(patch.chord.min()), float(patch.chord.max())]
    return chords
