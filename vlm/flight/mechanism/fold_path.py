"""How the tips travel from one setting to another: the drive's own speed against the load.

The servo's speed settles with its time constant toward what the motor line allows at the hinge
moment of the moment; the worm gear stops the tip where it was commanded to.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from vlm.constants import Floats
from vlm.description.actuator import Actuator
from vlm.flight.mechanism.servo import damped_speed
from vlm.sides import Side

Load = Callable[[float], float]
LONGEST_S = 120.0
STEPS = 400


@dataclass(frozen=True)
class FoldPath:
    """Commanded folds of both sides against time.

    Attributes
    ----------
    times : shape (n,), from 0 to the last stop [s]
    folds : by side, shape (n,) [rad]
    rates : by side, shape (n,) [rad/s]
    stops : by side, when it stands still [s]
    """

    times: Floats
    folds: Mapping[Side, Floats]
    rates: Mapping[Side, Floats]
    stops: Mapping[Side, float]

    @property
    def duration(self) -> float:
        """Until both sides stand still [s]."""
        return max(self.stops.values())

    def fold(self, side: Side, time: float) -> float:
        """Fold of a side [rad]."""
        return float(np.interp(time, self.times, self.folds[side]))

    def rate(self, side: Side, time: float) -> float:
        """Folding speed of a side, positive raising the tip [rad/s]; zero once it stands."""
        if time >= self.stops[side]:
            return 0.0
        return float(np.interp(time, self.times, self.rates[side]))


def fold_path(
    actuator: Actuator,
    start: Mapping[Side, float],
    end: Mapping[Side, float],
    loads: Mapping[Side, Load],
    friction: float,
    damping: Mapping[Side, Load] | None = None,
) -> FoldPath | None:
    """Travel of both sides, each at its own speed.

    Parameters
    ----------
    start, end : commanded fold by side ("left", "right") [rad]
    loads : by side, moment on its servo against its fold, positive raising the tips [N m]
    friction : of the mesh [1]
    damping : by side, moment against the speed of its tips, against its fold, not negative
        [N m s/rad]; none if left out

    Returns
    -------
    None where a servo stalls on the way
    """
    travels = {}
    for side in Side:
        resist = damping[side] if damping is not None else _no_damping
        travel = _travel(actuator, start[side], end[side], loads[side], friction, resist)
        if travel is None:
            return None
        travels[side] = travel
    duration = max(float(travel[0][-1]) for travel in travels.values())
    # The ends of both travels stand among the times, so that no stop falls between two of them.
    stops = {side: float(travel[0][-1]) for side, travel in travels.items()}
    times = np.unique(np.append(np.linspace(0.0, duration, STEPS + 1), list(stops.values())))
    return FoldPath(
        times=times,
        folds={side: np.interp(times, t[0], t[1]) for side, t in travels.items()},
        rates={side: np.interp(times, t[0], t[2]) for side, t in travels.items()},
        stops=stops,
    )


def _no_damping(_fold: float) -> float:
    return 0.0


def _travel(
    actuator: Actuator, start: float, end: float, load: Load, friction: float, resist: Load
) -> tuple[Floats, Floats, Floats] | None:
    """Times, folds and rates of one side, stepped evenly in time."""
    if start == end:
        return np.zeros(1), np.array([start]), np.zeros(1)
    direction = float(np.sign(end - start))
    free = float(np.radians(actuator.servo_no_load_speed_deg_s)) / actuator.worm_ratio
    lag = actuator.servo_time_constant_s
    step = abs(end - start) / free / STEPS
    times, folds, rates = [0.0], [start], [0.0 if lag > 0.0 else free * direction]
    while (end - folds[-1]) * direction > 0.0:
        here = folds[-1]
        moment = -direction * load(here)
        target = direction * damped_speed(actuator, moment, resist(here), friction)
        if abs(target) < 1e-3 * free or times[-1] > LONGEST_S:
            return None
        faded = np.exp(-step / lag) if lag > 0.0 else 0.0
        rate = target + (rates[-1] - target) * faded
        folds.append(folds[-1] + 0.5 * step * (rate + rates[-1]))
        times.append(times[-1] + step)
        rates.append(rate)
    # Cut the last step where it passes the end.
    share = (end - folds[-2]) / (folds[-1] - folds[-2])
    times[-1] = times[-2] + share * (times[-1] - times[-2])
    rates[-1] = rates[-2] + share * (rates[-1] - rates[-2])
    folds[-1] = end
    return np.array(times), np.array(folds), np.array(rates)
