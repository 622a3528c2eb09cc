"""Circulations of a lattice in time, one solve a step."""

from dataclasses import dataclass

import numpy as np
from scipy.linalg import lu_factor, lu_solve

from vlm.constants import Floats
from vlm.errors import ComputationFailed
from vlm.unsteady.course import Course
from vlm.unsteady.shedding import Shedding, shedding


@dataclass(frozen=True)
class History:
    """What a march found.

    Attributes
    ----------
    course : what was marched
    times : shape (steps + 1,), from 0 [s]
    circulation : of each panel's ring, shape (steps + 1, panels) [m^2/s]
    edge : of each strip at the trailing edge, shape (steps + 1, strips) [m^2/s]
    """

    course: Course
    times: Floats
    circulation: Floats
    edge: Floats


def march(
    course: Course, time_step: float, steps: int, *, from_steady: bool = True, kept_rows: int = 0
) -> History:
    """March through equal time steps.

    Parameters
    ----------
    course : see :class:`~vlm.unsteady.course.Course`
    time_step : [s]
    steps : number of steps
    from_steady : whether the flow is steady until time 0, with what ``course`` tells of time 0;
        otherwise nothing has a circulation until then (a start from rest)
    kept_rows : wake rows kept apart; all if left out. Behind the last one the wake has the
        circulation of that row on to infinity.

    Raises
    ------
    ComputationFailed : the stream stands still, or the matrix is singular
    """
    shed = shedding(course.lattice, _carried(course, time_step), max(2, kept_rows or steps + 1))
    trailing = course.lattice.trailing_panels()
    matrix = shed.wing.copy()
    matrix[:, trailing] += shed.wake[0]
    factors = lu_factor(matrix)
    circulation = np.zeros((steps + 1, course.lattice.panels))
    if from_steady:
        circulation[0] = _steady_circulation(course, shed)
    for n in range(1, steps + 1):
        older = _shed_before(circulation[:n, trailing], shed.rows)
        wash = np.einsum("rps,rs->p", shed.wake[1:], older, optimize=True)
        circulation[n] = lu_solve(factors, -_normal_wind(course, n * time_step) - wash)
    if not np.all(np.isfinite(circulation)):
        raise ComputationFailed("the unsteady lattice's matrix is singular")
    return History(
        course=course,
        times=_times(time_step, steps),
        circulation=circulation,
        edge=circulation[:, trailing],
    )


def _shed_before(edge: Floats, rows: int) -> Floats:
    """Strengths of wake rows 1 on, newest first, shape (rows - 1, strips) [m^2/s].

    Behind the first state the wake goes on unchanged.
    """
    back = np.maximum(len(edge) - 1 - np.arange(rows - 1), 0)
    return np.asarray(edge[back])


def _steady_circulation(course: Course, shed: Shedding) -> Floats:
    return np.asarray(np.linalg.solve(_steady_matrix(course, shed), -_normal_wind(course, 0.0)))


def _steady_matrix(course: Course, shed: Shedding) -> Floats:
    """Influence of each ring with a wake that has not changed for long."""
    matrix = shed.wing.copy()
    matrix[:, course.lattice.trailing_panels()] += shed.wake.sum(axis=0)
    return matrix


def quasi_steady(course: Course, time_step: float, steps: int) -> History:
    """The same course as if every instant had lasted for ever.

    Raises
    ------
    ComputationFailed : the stream stands still
    """
    shed = shedding(course.lattice, _carried(course, time_step), 2)
    times = _times(time_step, steps)
    wind = np.stack([_normal_wind(course, time) for time in times], axis=1)
    circulation: Floats = np.asarray(np.linalg.solve(_steady_matrix(course, shed), -wind).T)
    trailing = course.lattice.trailing_panels()
    return History(course, times, circulation, circulation[:, trailing])


def _times(time_step: float, steps: int) -> Floats:
    return np.asarray(time_step * np.arange(steps + 1), dtype=np.float64)


def _carried(course: Course, time_step: float) -> Floats:
    """Way of the stream in one step, shape (3,) [m]."""
    step = np.asarray(course.stream, dtype=float) * time_step
    if not np.linalg.norm(step) > 0.0:
        raise ComputationFailed("an unsteady march needs a stream that carries the wake off")
    return step


def _normal_wind(course: Course, time: float) -> Floats:
    """Velocity of the undisturbed air along each panel's normal, shape (panels,) [m/s]."""
    return np.concatenate(
        [
            np.einsum(
                "kjc,kjc->kj", course.air_past(time, patch.body, patch.controls), patch.normals
            ).ravel()
            for patch in course.lattice.patches
        ]
    )
