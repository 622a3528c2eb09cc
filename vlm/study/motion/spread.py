"""What the model leaves open in a motion: the scenario flown again with loads that are off.

The half-widths that the wake's direction and roll-up leave in the loads
(:mod:`vlm.loads.model_spread`), at the start and where the craft folds and slips most, are added to
the loads all through the motion, group by group: lift with drag, pitching moment, rolling moment,
yawing moment, the last two with what sideslip changes in them. What an extreme changes by is summed
over the groups. The moment about a hinge takes its own half-width as it is, and what a joint that
closes changes in it.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from vlm.constants import Floats
from vlm.description.folds import FoldAngles
from vlm.flight.craft.folding_craft import FoldingCraft
from vlm.flight.mechanism.worm import worm_torque
from vlm.flight.simulation.air_table import CLEAR_DEG, table_at
from vlm.flight.simulation.history import History
from vlm.flight.simulation.plant import Allowance, Plant
from vlm.flight.simulation.task import Task
from vlm.loads.model_spread import HINGE, wake_spread
from vlm.loads.state import FlightState
from vlm.study.point.sizes import tip_sizes

MIRRORED = 1e-6
"""Bank and sideslip below which a motion is symmetric [rad]."""


@dataclass(frozen=True)
class LoadSpread:
    """Half-widths of the model in the loads of a motion.

    Attributes
    ----------
    groups : what is added to the loads, one after another
    hinges : by tip, of its moment, without what its motion changes [N m]
    """

    groups: tuple[Allowance, ...]
    hinges: Mapping[str, float]


def load_spread(folding: FoldingCraft, plant: Plant, task: Task, history: History) -> LoadSpread:
    """Half-widths at the start and at the most folded instant, the larger of both."""
    states = [(task.start, 0), (_most_folded(plant, history), _place(history))]
    found: dict[str, float] = {}
    for folds, place in states:
        loads = folding.at(folds).loads
        state = FlightState(
            alpha=float(history.alpha[place]), beta=float(np.abs(history.beta).max())
        )
        for name, value in wake_spread(loads, state).items():
            found[name] = max(found.get(name, 0.0), float(value))
    reference = folding.at(task.start).loads.reference
    area, span, chord = reference.area, reference.span, reference.chord
    wide = 6 + len(plant.bodies.tips)

    def group(shifts: dict[int, float], slopes: dict[int, float]) -> Allowance:
        shift, slope = np.zeros(wide), np.zeros(wide)
        for place, value in shifts.items():
            shift[place] = area * value
        for place, value in slopes.items():
            slope[place] = area * value
        return Allowance(shift, slope)

    groups = [
        group({0: -found["CDi"], 2: -found["CL"]}, {}),
        group({4: chord * found["Cm"]}, {}),
    ]
    if max(np.abs(history.bank).max(), np.abs(history.beta).max()) > MIRRORED:
        groups += [
            group({3: span * found["Cl"]}, {3: span * found["Cl_beta"]}),
            group({5: span * found["Cn"]}, {5: span * found["Cn_beta"]}),
        ]
    pressure = 0.5 * plant.density * float(history.airspeed.max()) ** 2
    sizes, closed = tip_sizes(folding.engine.cellule), closing_change(folding, plant, task, history)
    hinges = {
        tip.body: found[HINGE] * pressure * float(np.prod(sizes[tip.body.split("_")[0]]))
        + (0.0 if closed is None else abs(float(closed[6 + i])))
        for i, tip in enumerate(plant.bodies.tips)
    }
    return LoadSpread(tuple(groups), hinges)


def _place(history: History) -> int:
    return int(np.argmax(sum(np.abs(fold) for fold in history.folds.values())))


def _most_folded(plant: Plant, history: History) -> FoldAngles:
    """The most folded setting, in whole degrees, clear of joints that close."""
    place, sides = _place(history), []
    for points, fold in zip(plant.air.points, history.folds.values(), strict=True):
        low, high = np.degrees(points[[0, -1]])
        sides.append(float(np.clip(np.round(np.degrees(fold[place])), low, high)))
    return FoldAngles(sides[0], sides[1])


def closing_change(
    folding: FoldingCraft, plant: Plant, task: Task, history: History
) -> Floats | None:
    """What a joint that closes at the commanded folds changes in the loads, body axes.

    Returns
    -------
    Loads of the closed less those of the open lattice at the end of the history, shape
    (6 + tips,) [N, N m]; None where nothing closes, or the tips end clear of it
    """
    last = history_folds(history)
    for folds in task.commanded:
        near = (
            abs(folds.left_deg - last[0]) < CLEAR_DEG and abs(folds.right_deg - last[1]) < CLEAR_DEG
        )
        if near and folding.at(folds).loads.lattice.is_joined:
            motion = np.zeros(plant.air.motions)
            motion[0] = history.airspeed[-1] * np.cos(history.alpha[-1])
            motion[2] = history.airspeed[-1] * np.sin(history.alpha[-1])
            here = np.radians([folds.left_deg, folds.right_deg])
            closed = table_at(folding, plant.air, folds).loads(here, motion, plant.density)
            return np.asarray(closed - plant.air.loads(here, motion, plant.density))
    return None


def history_folds(history: History) -> tuple[float, float]:
    """Folds of port and starboard at the end [deg]."""
    left, right = (float(np.degrees(fold[-1])) for fold in history.folds.values())
    return left, right


def with_allowance(plant: Plant, allowance: Allowance) -> Plant:
    """The plant with loads that are off by an allowance."""
    return replace(plant, allowance=allowance, _poses={})


def worm_width(plant: Plant, side: int, moments: Sequence[float]) -> float:
    """Half-width of one servo's worm torque that those of moments make [N m].

    Parameters
    ----------
    moments : half-width of each tip's moment on the side's fold [N m]
    """
    if plant.drives is None:
        return 0.0
    drive = plant.drives[side]
    own = sum(moments) if drive.servos == 1 else max(moments)
    return max(abs(worm_torque(drive.actuator, sign * own, drive.friction)) for sign in (1.0, -1.0))
