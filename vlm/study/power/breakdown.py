"""Parts of the power, rotors and limits of every trim of a curve, as rows for results."""

from collections.abc import Mapping
from dataclasses import dataclass, fields

import numpy as np

from vlm.constants import Floats
from vlm.flight.trim.power_curve import PowerCurve, PowerPoint
from vlm.flight.trim.power_parts import (
    DragParts,
    PowerParts,
    RotorPoint,
    drag_parts,
    equal_thrusts,
    power_parts,
    rotor_points,
)
from vlm.flight.trim.trim_measures import driven_rotors

POWER = "electrical_power_W"
PART_KEYS = tuple(f"power_{field.name}_W" for field in fields(PowerParts))
DRAG_KEYS = tuple(f"drag_{field.name}_N" for field in fields(DragParts))
TRIM_KEY = "pitch_trim_W"
ROTOR_KEYS = ("thrust_N", "speed_rpm", "torque_N_m", "shaft_power_W")


@dataclass(frozen=True)
class Breakdown:
    """All trims of one curve taken apart.

    Attributes
    ----------
    values : by the key of the table of quantities, one number a speed, NaN without a trim
    rotors : by the rotor's name and :data:`ROTOR_KEYS`, the same
    nearest_limit : the limit with the least margin at every speed; empty without any
    driven : names of the rotors that the air drives, at every speed
    """

    values: Mapping[str, Floats]
    rotors: Mapping[str, Mapping[str, Floats]]
    nearest_limit: tuple[str, ...]
    driven: tuple[tuple[str, ...], ...]


def breakdown(curve: PowerCurve) -> Breakdown:
    """Take every trim of a curve apart."""
    craft = curve.problem.craft
    rows = [_row(curve, point) for point in curve.points]
    keys = (*PART_KEYS, *DRAG_KEYS, TRIM_KEY)
    nothing = RotorPoint("", *(float("nan"),) * 4)
    points = [
        (nothing,) * len(craft.rotors) if p.trim is None else rotor_points(craft, p.trim)
        for p in curve.points
    ]
    return Breakdown(
        values={key: np.array([row.get(key, np.nan) for row in rows]) for key in keys},
        rotors={
            rotor.name: {
                key: np.array([getattr(at_speed[i], key) for at_speed in points])
                for key in ROTOR_KEYS
            }
            for i, rotor in enumerate(craft.rotors)
        },
        nearest_limit=tuple(_nearest(point) for point in curve.points),
        driven=tuple(
            () if p.trim is None else tuple(driven_rotors(craft, p.trim)) for p in curve.points
        ),
    )


def _row(curve: PowerCurve, point: PowerPoint) -> dict[str, float]:
    if point.trim is None:
        return {}
    parts = power_parts(curve.problem, point.trim)
    drags = drag_parts(curve.problem.craft, point.trim.loads)
    row = {f"power_{name}_W": value for name, value in parts.values.items()}
    row |= {f"drag_{field.name}_N": getattr(drags, field.name) for field in fields(drags)}
    row[TRIM_KEY] = point.value(POWER) - equal_thrusts(curve.problem, point.trim).power
    return row


def _nearest(point: PowerPoint) -> str:
    if point.measures is None or not point.measures.margins:
        return ""
    margins = point.measures.margins
    return min(margins, key=lambda name: margins[name])
