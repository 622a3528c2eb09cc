"""What the model leaves open in a motion: the scenario flown again with loads that are off.

The half-widths that the wake's direction and roll-up leave in the loads
(:mod:`vlm.loads.model_spread`) are added to the loads all through the motion, group by group: lift
with drag, pitching moment, rolling moment, yawing moment, the last two with what sideslip changes
in them. They begin as those of the start and grow, with the fold or the sideslip, whichever has
gone farther, to those where the craft folds and slips most: a start that is symmetric has none in
roll and yaw. What an extreme changes by is summed over the groups. Where rotors answer the air, the
scenario is flown again with rotors that hold their speed, and that hold their torque, the ends that
their answer stands midway between, both with the most and the least force across their axes; of
these four changes the largest counts. The moment about a hinge takes its own half-width as it is,
and what a joint that closes changes in it.
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
from vlm.flight.simulation.plant import Allowance, Growth, Plant
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


_Sizes = Mapping[int, tuple[float, str]]
"""By place in the loads: length or sign over the reference area, and the coefficient's name."""


def load_spread(folding: FoldingCraft, plant: Plant, task: Task, history: History) -> LoadSpread:
    """Half-widths at the start, and the largest of the start's and the most folded instant's."""
    slip, first = float(np.abs(history.beta).max()), float(np.abs(history.beta[0]))
    most, place = _most_folded(plant, history), _place(history)
    states = [(task.start, 0, slip), (most, place, slip), (task.start, 0, first)]
    spreads = [
        wake_spread(folding.at(folds).loads, FlightState(alpha=float(history.alpha[i]), beta=beta))
        for folds, i, beta in states
    ]
    begins = {name: float(value) for name, value in spreads[-1].items()}
    found = {name: max(float(one[name]) for one in spreads) for name in begins}
    reference = folding.at(task.start).loads.reference
    area, span, chord = reference.area, reference.span, reference.chord
    wide = 6 + len(plant.bodies.tips)
    turned = np.array(list(history.folds.values()))
    growth = Growth(turned[:, 0], float(np.abs(turned - turned[:, :1]).max()), slip)

    def group(shifts: _Sizes, slopes: _Sizes) -> Allowance:
        def filled(sizes: _Sizes, values: Mapping[str, float]) -> Floats:
            row = np.zeros(wide)
            for place, (size, name) in sizes.items():
                row[place] = area * size * values[name]
            return row

        shift, slope = filled(shifts, begins), filled(slopes, begins)
        return Allowance(
            shift, slope, filled(shifts, found) - shift, filled(slopes, found) - slope, growth
        )

    groups = [
        group({0: (-1.0, "CDi"), 2: (-1.0, "CL")}, {}),
        group({4: (chord, "Cm")}, {}),
    ]
    if max(np.abs(history.bank).max(), slip) > MIRRORED:
        groups += [
            group({3: (span, "Cl")}, {3: (span, "Cl_beta")}),
            group({5: (span, "Cn")}, {5: (span, "Cn_beta")}),
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


def rotor_ends(plant: Plant) -> tuple[Plant, ...]:
    """The plant with rotors at all ends of their answer to the air.

    Returns
    -------
    none where thrust does not answer the air
    """
    if plant.rotors is None or not plant.rotors.answers:
        return ()
    return tuple(replace(plant, rotors=one) for one in plant.rotors.ends())


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
