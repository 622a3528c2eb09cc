"""Whether a motion still swings more and more when its history ends, or would after an upset."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from vlm.constants import Floats
from vlm.description.motion import StabilisingLaw
from vlm.findings import Finding
from vlm.flight.simulation.history import History, history_of
from vlm.flight.simulation.plant import Plant, layout_of
from vlm.flight.simulation.running import run
from vlm.flight.simulation.steady import SteadyState
from vlm.flight.simulation.task import Task

GROWS_BY = 1.1
"""Ratio of the swings of two following stretches from which they are said to grow [1]."""
LEAST_SWING = float(np.radians(0.5))
"""Swing from end to end that is looked at [rad]."""
SHORTEST = 0.5
"""Shortest stretch that is looked at [s]."""
UPSET = float(np.radians(1.0))
"""Sideslip at the start with which a motion in the plane of symmetry is flown again [rad]."""
SYMMETRIC = 1e-3
"""Bank and sideslip below which nothing has rolled or slipped [rad]."""
UPSET_GROWS = "upset-grows"
"""Code of the finding that a little sideslip would grow."""
ROTORS_OFF = ("", "with rotors within their error ")
"""What leads a finding of the craft itself, and of one with rotors off."""
WORDS = {"bank": "bank", "pitch": "pitch attitude", "beta": "sideslip"}


def growth_findings(task: Task, history: History, ends: Sequence[History] = ()) -> list[Finding]:
    """The attitude whose swing grows most after all has happened; none where none grows.

    The time from the last thing that happens, or the last worm that stops, is halved; swings are
    those about a straight line through each half.

    Parameters
    ----------
    ends : the history with rotors at both ends of what they may hold; looked at where it does not
        grow itself
    """
    swings = [_growing(task, one, ("bank", "pitch", "beta")) for one in (history, *ends)]
    found = [(place, worst) for place, worst in enumerate(swings) if worst is not None]
    if not found:
        return []
    place, (grown, name, after) = found[0]
    return [
        Finding(
            "swing-grows", f"{ROTORS_OFF[place > 0]}the {WORDS[name]} swings more and more at the"
            f" end, by {np.degrees(after):.2g} deg; what comes later is not known; its swing in the"
            " last half of the time over that in the half before", grown, GROWS_BY, "1",
            "common practice",
            "follow it longer (--duration), and see the modes of foldspan lateral",
        )
    ]  # fmt: skip


def upset_findings(
    plants: Sequence[Plant], task: Task, law: StabilisingLaw | None, start: SteadyState,
    history: History,
) -> list[Finding]:  # fmt: skip
    """A motion in the plane of symmetry, flown again from a little sideslip: whether it grows.

    There nothing rolls or slips, however unstable the craft is sideways. None where something does.

    Parameters
    ----------
    plants : the craft, then with rotors at both ends of what they may hold; the first in which it
        grows is reported
    """
    if max(float(np.abs(values).max()) for values in (history.bank, history.beta)) > SYMMETRIC:
        return []
    for place, plant in enumerate(plants):
        found = _upset(plant, task, law, start, ROTORS_OFF[place > 0])
        if found:
            return found
    return []


def _upset(
    plant: Plant, task: Task, law: StabilisingLaw | None, start: SteadyState, how: str
) -> list[Finding]:
    state = start.state.copy()
    state[layout_of(plant).speeds][1] += UPSET * task.airspeed
    done = run(plant, task, law, replace(start, state=state))
    upset = history_of(plant, done)
    if done.cut_off:
        ends = f"it is cut off, as {done.cut_off}, within its {task.duration:g} s; time"
        value, limit, unit = float(done.times[-1]), None, "s"
    else:
        worst = _growing(task, upset, ("bank", "beta"))
        if worst is None:
            return []
        ends = (
            f"the {WORDS[worst[1]]} swings more and more, by {np.degrees(worst[2]):.2g} deg at the"
            " end; its swing in the last half of the time over that in the half before"
        )
        value, limit, unit = worst[0], GROWS_BY, "1"
    what = (
        "nothing rolls or slips here, but what begins with"
        f" {np.degrees(UPSET):.2g} deg of sideslip grows: {how}{ends}"
    )
    remedy = "give the law roll and yaw, fold the sides a little apart, or add a side gust"
    return [Finding(UPSET_GROWS, what, value, limit, unit, "common practice", remedy)]


def _growing(
    task: Task, history: History, names: tuple[str, ...]
) -> tuple[float, str, float] | None:  # fmt: skip
    """Ratio, name and size of the swing that grows most; None where none grows."""
    begin = max([0.0, *task.instants])
    for side, worm in history.worms.items():
        moving = np.abs(worm - history.targets[side]) > LEAST_SWING
        if moving.any():
            begin = max(begin, float(history.times[np.flatnonzero(moving)[-1]]))
    end = float(history.times[-1])
    middle = 0.5 * (begin + end)
    if end - middle < SHORTEST:
        return None
    first = (history.times >= begin) & (history.times <= middle)
    second = history.times >= middle
    worst: tuple[float, str, float] | None = None
    for name in names:
        values = getattr(history, name)
        before, after = (
            _swing(history.times[first], values[first]),
            _swing(history.times[second], values[second]),
        )
        grown = after / max(before, 1e-12)
        if after > LEAST_SWING and grown > GROWS_BY and (worst is None or grown > worst[0]):
            worst = grown, name, after
    return worst


def _swing(times: Floats, values: Floats) -> float:
    """From end to end, about a straight line through the values."""
    line = np.polynomial.Polynomial.fit(times, values, 1)
    return float(np.ptp(values - line(times)))
