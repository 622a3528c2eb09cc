"""What a command will take, said before it is begun or as soon as its pace is known."""

import os
import time
from collections.abc import Callable

from vlm.description.models import Biplane
from vlm.errors import ComputationFailed
from vlm.flow.memory import KEPT_FREE, available_memory, largest_lattice, solve_bytes
from vlm.lattice.cellule import Grid, build_cellule
from vlm.study.sweep.plan import SweepPlan

STATE_BYTES = 22_000
"""Memory that the numbers of one state take until they are written, measured on shipped craft."""
HELD_SOLVES = 5.0
"""Solves of the asked lattice whose memory a command other than a sweep holds at once, at most."""
TOLD_BYTES = 2**30
TOLD_SECONDS, LOOK_SECONDS = 60.0, 3.0


def sweep_bytes(craft: Biplane, plan: SweepPlan, workers: int = 1) -> int:
    """Memory that a sweep takes in all its processes, beside the programs' own [bytes]."""
    states = len(plan.cases()) * len(plan.alphas_deg) * len(plan.betas_deg)
    at_once = max(workers, os.cpu_count() or 1)
    return states * STATE_BYTES + at_once * solve_bytes(build_cellule(craft, plan.grid).panels)


def command_bytes(craft: Biplane, grid: Grid) -> int:
    """Memory that a command takes for one lattice, beside the program's own [bytes]."""
    return int(HELD_SOLVES * solve_bytes(build_cellule(craft, grid).panels))


def fewer_panels(free: int) -> str:
    """What to do about a lattice that takes more memory than there is [bytes]."""
    most = largest_lattice(int(free / HELD_SOLVES))
    return f"; at most {most} panels fit: take fewer rows or strips"


def fewer_states(_free: int) -> str:
    """What to do about a sweep that takes more memory than there is."""
    return ": ask for fewer folds or angles at a time, a coarser lattice, or fewer --workers"


def memory_sentence(
    needed: int,
    there: int | None = None,
    what: str = "the sweep",
    remedy: Callable[[int], str] = fewer_states,
) -> str | None:
    """What to tell of a need for memory; None where it is below a GiB.

    Parameters
    ----------
    needed : [bytes]
    what : that needs it
    remedy : what to do about it, by what may be taken [bytes]
    there : what may be taken; by default nine tenths of what is available [bytes]

    Raises
    ------
    ComputationFailed : there is not as much
    """
    if needed < TOLD_BYTES:
        return None
    free = int((1.0 - KEPT_FREE) * available_memory()) if there is None else there
    if needed > free:
        raise ComputationFailed(
            f"{what} needs about {needed / 2**30:.3g} GiB of memory, {free / 2**30:.3g} GiB may"
            f" be taken{remedy(free)}"
        )
    return f"this takes about {needed / 2**30:.2g} GiB of memory"


class Pace:
    """Says once how long the rest will take, if that is more than a minute.

    Parameters
    ----------
    tell : called with the sentence
    unit : of what is counted, in the plural
    clock : seconds that only go forward
    """

    def __init__(
        self,
        tell: Callable[[str], None],
        unit: str,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self._tell, self._unit, self._clock = tell, unit, clock
        self._begun: tuple[float, int] | None = None
        self._said = False

    def __call__(self, done: int, total: int) -> None:
        """Take note of how far the work is."""
        now = self._clock()
        if self._begun is None or self._begun[1] > done:
            self._begun = (now, done)
            return
        passed, fresh = now - self._begun[0], done - self._begun[1]
        if self._said or passed < LOOK_SECONDS or not fresh:
            return
        self._said = True
        left = passed / fresh * (total - done)
        if left > TOLD_SECONDS:
            self._tell(
                f"about {spoken_time(left)} more: {fresh} of {total} {self._unit} took"
                f" {spoken_time(passed)}; stopped, the same command goes on from where it was"
            )


def spoken_time(seconds: float) -> str:
    """Seconds, minutes or hours, as one says them."""
    if seconds < 90.0:
        return f"{seconds:.0f} s"
    return f"{seconds / 60.0:.0f} min" if seconds < 5400.0 else f"{seconds / 3600.0:.1f} h"
