"""A log against the power curves of its own geometry file."""

from collections.abc import Callable
from dataclasses import replace

from vlm.description.models import Biplane
from vlm.errors import InputRefused, nearest_name
from vlm.lattice.cellule import Grid
from vlm.log.analysis import Compared, Measured, compared
from vlm.log.craft_prediction import (
    CraftPower,
    craft_prediction,
    speeds_for,
    table_warnings,
)


def craft_power(
    craft: Biplane,
    result: Measured,
    grid: Grid | None = None,
    report: Callable[[int], None] | None = None,
) -> CraftPower:
    """The craft's power at a log's speeds and density.

    Parameters
    ----------
    craft : with [mass], [[rotors]] and [propulsion]
    result : the log by itself, with at least one steady segment
    grid : lattice; that of power curves if None
    report : called with 1 after each curve
    """
    if result.points is None:
        raise ValueError("a log without segments has no speeds")
    speeds = speeds_for(result.points.airspeed_m_s)
    return CraftPower(craft, result.density_kg_m3, speeds, result.plan.fit, grid, report)


def curves_needed(craft: Biplane, result: Measured) -> int:
    """How many power curves a comparison solves, those of the last check included."""
    power = craft_power(craft, result)
    checks = 1 if power.curves_needed > 1 else 0
    return (power.curves_needed + checks + 1) * len(result.binned)


def compared_with_craft(
    craft: Biplane,
    result: Measured,
    report: Callable[[int], None] | None = None,
    grid: Grid | None = None,
) -> Compared:
    """Hold a log against the craft's power curves, and fit what its plan names.

    Parameters
    ----------
    craft, result, grid, report : as in ``craft_power``

    Raises
    ------
    InputRefused
        If something that cannot be fitted is to be.
    ComputationFailed
        If a curve, or the fit, cannot be completed.
    """
    power = craft_power(craft, result, grid, report)
    prediction = craft_prediction(power)
    for name in result.plan.fit:
        if name not in prediction.unknowns:
            near = nearest_name(name, prediction.unknowns)
            known = ", ".join(prediction.unknowns)
            remedy = f"did you mean {near}?" if near else f"known are {known}."
            raise InputRefused(f"--fit {name}: nothing of that name can be fitted; {remedy}")
    found = compared(result, lambda _density: prediction)
    found = replace(found, left_out=power.left_out)
    if found.fit is None:
        return found
    points = found.fit.points
    flown = {name: points.airspeed_m_s[points.configuration == name] for name in points.names}
    warnings = table_warnings(power, flown, found.fit.values)
    return replace(found, fit=replace(found.fit, findings=(*found.fit.findings, *warnings)))
