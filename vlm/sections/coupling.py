"""Strips agree with their sections: Newton's method on the factorised lattice.

In every strip the circulation Gamma and the normal velocity v_n that the section sees must fit its
lift curve. From equations (1) and (2) the lattice tells

    v_n = (Gamma / (pi c) - w + a v_t) / b                                             (3)

and the section asks for

    Gamma = U c cl(alpha) / 2,   U^2 = v_t^2 + v_n^2,   alpha = atan2(v_n, v_t)        (4)

The unknowns are the offsets w. A thin section leaves them zero, so the lattice's own answer comes
back. A section's departure from the thin one is averaged over a part of the chord along the span
(:func:`vlm.sections.strips.smoothing_of`), without which a lift curve that falls past stall would
have many solutions.

Far from the chord line the lattice stops making sense: its wake leaves along the chord, which the
flow no longer follows. Between 25 and 45 degrees of onset the induced velocity is faded out, and
beyond that a strip sees the onset flow alone; its coefficients past stall are those of a whole wing
and need no induced angle.
"""

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from vlm.air import Air
from vlm.constants import Floats
from vlm.description.sections import Section
from vlm.sections.post_stall import smooth_step
from vlm.sections.sectioned import SectionedLattice

TOLERANCE = 1e-11
MOST_STEPS = 40
MOST_DAMPED = 400
RELAXATION = 0.15
NEAR = 1e-3
LONGEST_STEP = 0.5
FADE_START = np.radians(25.0)
FADE_WIDTH = np.radians(20.0)
STILL = 0.1
TINY = 1e-30


@dataclass(frozen=True)
class StripOnset:
    """What the strips of a lattice meet before the lattice acts on it; states in front.

    Attributes
    ----------
    normalwash : shape (states, panels), onset velocity along the panels' normals [m/s]
    tangential : shape (states, strips), along the chord, v_t [m/s]
    normal : shape (states, strips), along the strip's normal [m/s]
    spanwise : shape (states, strips), along the strip's quarter-chord line [m/s]
    air : the air
    """

    normalwash: Floats
    tangential: Floats
    normal: Floats
    spanwise: Floats
    air: Air

    @cached_property
    def scale(self) -> Floats:
        """Root mean square speed of the strips' onset, shape (states,) [m/s]."""
        return np.asarray(np.sqrt(np.mean(self.tangential**2 + self.normal**2, axis=1)) + TINY)

    @cached_property
    def attached(self) -> Floats:
        """How much the lattice counts in each strip: 1 near the chord line, 0 far from it.

        Strips in all but still air, out of the rotors' wind in a hover, count as far from it.
        """
        across = np.hypot(self.normal, self.spanwise)
        near = 1.0 - smooth_step((np.arctan2(across, self.tangential) - FADE_START) / FADE_WIDTH)
        speed = np.hypot(self.tangential, across) / self.scale[:, None]
        return np.asarray(near * smooth_step((speed - STILL) / STILL))


@dataclass(frozen=True)
class StripState:
    """What a strip's section does at given velocities; every field (states, strips).

    Attributes
    ----------
    speed : U [m/s]
    alpha : angle of attack against the chord line [rad]
    reynolds : on the chord [1]
    cl, cd, cm : coefficients [1]
    circulation : what the section asks for, equation (4) [m^2/s]
    circulation_slope : its derivative with v_n [m]
    separation : separated part [1]
    margin : angle left to stall on the nearer side; infinite for a thin section [rad]
    """

    speed: Floats
    alpha: Floats
    reynolds: Floats
    cl: Floats
    cd: Floats
    cm: Floats
    circulation: Floats
    circulation_slope: Floats
    separation: Floats
    margin: Floats


@dataclass(frozen=True)
class Settled:
    """Strips in agreement with their sections.

    Attributes
    ----------
    onset : what the strips met
    offset : shape (states, strips), w [m/s]
    circulation : shape (states, strips), of the lattice [m^2/s]
    normal : shape (states, strips), v_n [m/s]
    state : what the sections do
    residual : shape (states,), largest disagreement over the root mean square speed [1]
    iterations : shape (states,), steps taken, damped ones included
    settled : shape (states,), whether the residual came below the tolerance
    """

    onset: StripOnset
    offset: Floats
    circulation: Floats
    normal: Floats
    state: StripState
    residual: Floats
    iterations: NDArray[np.intp]
    settled: NDArray[np.bool_]


def strip_onset(model: SectionedLattice, velocity: Floats, air: Air) -> StripOnset:
    """Onset flow by panel and strip.

    Parameters
    ----------
    velocity : shape (states, panels, 3), onset velocity at the control points, geometry axes [m/s]
    """
    along = model.strips.along[model.spread]
    normal = model.strips.normal[model.spread]
    across = model.strips.turning[model.spread]
    return StripOnset(
        normalwash=np.einsum("bnc,nc->bn", velocity, model.normals),
        tangential=model.strip_means(np.einsum("bnc,nc->bn", velocity, along)),
        normal=model.strip_means(np.einsum("bnc,nc->bn", velocity, normal)),
        spanwise=model.strip_means(np.einsum("bnc,nc->bn", velocity, across)),
        air=air,
    )


def section_state(
    model: SectionedLattice, tangential: Floats, normal: Floats, air: Air
) -> StripState:
    """What the sections do at velocities v_t and v_n, shape (states, strips) each [m/s]."""
    strips = model.strips
    speed = np.hypot(tangential, normal)
    safe = np.maximum(speed, TINY)
    alpha = np.arctan2(normal, tangential)
    reynolds = speed * strips.chord / air.kinematic_viscosity_m2_s
    # The thin section of equation (1), and slopes with v_n.
    thin = np.pi * strips.chord * (strips.flatness * normal - strips.camber * tangential)
    cl = 2.0 * thin / (safe * strips.chord)
    slope = np.pi * strips.chord * strips.flatness + 0.0 * speed
    cd, separation = 0.0 * speed, 0.0 * speed
    cm = strips.thin_moment * (tangential / safe) ** 2
    margin = np.full(speed.shape, np.inf)
    for group in model.groups:
        own = group.strips
        if group.polar is None:
            cd[:, own] = _thin_drag(group.section, cl[:, own], reynolds[:, own])
            continue
        found = group.polar.at(alpha[:, own], reynolds[:, own])
        sine, cosine = normal[:, own] / safe[:, own], tangential[:, own] / safe[:, own]
        cl[:, own], cd[:, own], cm[:, own] = found.cl, found.cd, found.cm
        slope[:, own] = 0.5 * strips.chord[own] * (sine * found.cl + cosine * found.cl_slope)
        separation[:, own] = found.separation
        margin[:, own] = np.minimum(
            found.stall_high - alpha[:, own], alpha[:, own] - found.stall_low
        )
    return StripState(
        speed=speed, alpha=alpha, reynolds=reynolds, cl=cl, cd=cd, cm=cm,
        circulation=0.5 * speed * strips.chord * cl, circulation_slope=slope,
        separation=separation, margin=margin,
    )  # fmt: skip


def _thin_drag(section: Section, cl: Floats, reynolds: Floats) -> Floats:
    """Parabolic drag of a thin section."""
    rise = section.value("cd_rise") * (cl - section.value("cl_at_least_drag")) ** 2
    ratio = np.clip(reynolds, 1e4, 1e7) / section.value("reynolds")
    factor = ratio ** -section.value("reynolds_exponent")
    return np.asarray((section.value("cd_least") + rise) * factor)


@dataclass(frozen=True)
class _Trial:
    """Offsets, what follows from them, and the disagreement of every strip as a velocity [m/s]."""

    offset: Floats
    circulation: Floats
    normal: Floats
    state: StripState
    residual: Floats
    worst: Floats
    size: Floats


class _Problem:
    """The equations of some states, and one trial of their unknowns at a time."""

    def __init__(self, model: SectionedLattice, onset: StripOnset) -> None:
        self.model, self.onset = model, onset
        self.base = onset.normalwash @ model.trailing.T
        self.fade = onset.attached
        self.scale = onset.scale
        self.depth = np.pi * model.strips.chord
        self.unit = np.eye(model.strips.count)
        self.rough = model.smoothing - self.unit
        self.share = model.offset_response / self.depth[:, None]

    def part(self, chosen: NDArray[Any]) -> "_Problem":
        """The equations of some of the states."""
        onset = StripOnset(
            self.onset.normalwash[chosen], self.onset.tangential[chosen],
            self.onset.normal[chosen], self.onset.spanwise[chosen], self.onset.air,
        )  # fmt: skip
        return _Problem(self.model, onset)

    def velocities(self, offset: Floats) -> tuple[Floats, Floats]:
        """Circulation of the lattice, and v_n of equation (3), faded."""
        strips = self.model.strips
        circulation = self.base + offset @ self.model.offset_response.T
        seen = circulation / self.depth - offset + strips.camber * self.onset.tangential
        normal = self.fade * seen / strips.flatness + (1.0 - self.fade) * self.onset.normal
        return circulation, normal

    def tried(self, offset: Floats) -> _Trial:
        """Disagreement of every strip at some offsets."""
        circulation, normal = self.velocities(offset)
        state = section_state(self.model, self.onset.tangential, normal, self.onset.air)
        plain = (circulation - state.circulation) / self.depth
        departure = offset - plain
        residual = plain - self.fade * (departure @ self.rough.T)
        worst = np.max(np.abs(residual), axis=1) / self.scale
        return _Trial(
            offset, circulation, normal, state, residual, worst, np.linalg.norm(residual, axis=1)
        )

    def step(self, trial: _Trial) -> Floats:
        """Newton's step of every state."""
        seen = (self.fade / self.model.strips.flatness)[:, :, None] * (self.share - self.unit)
        slope = (trial.state.circulation_slope / self.depth)[:, :, None]
        plain = self.share - slope * seen
        matrix = plain - self.fade[:, :, None] * (self.rough @ (self.unit - plain))
        try:
            step = -np.linalg.solve(matrix, trial.residual[:, :, None])[:, :, 0]
        except np.linalg.LinAlgError:
            step = -RELAXATION * trial.residual
        change = np.einsum("bij,bj->bi", seen, step)
        longest = np.max(np.abs(change), axis=1) / (LONGEST_STEP * self.scale)
        return np.asarray(step / np.maximum(longest, 1.0)[:, None])


def settle(model: SectionedLattice, onset: StripOnset, start: Floats | None = None) -> Settled:
    """Bring the strips into agreement with their sections.

    Parameters
    ----------
    start : shape (states, strips), offsets to start from, such as those of a state nearby [m/s]
    """
    problem = _Problem(model, onset)
    shape = onset.tangential.shape
    offset = np.zeros(shape) if start is None else np.array(np.broadcast_to(start, shape))
    iterations = np.zeros(shape[0], dtype=np.intp)
    trial = _newton(problem, offset, iterations)
    stuck = trial.worst > TOLERANCE
    if stuck.any():
        part = problem.part(stuck)
        calmed, steps = np.zeros_like(trial.offset[stuck]), iterations[stuck]
        calmed = _damped(part, calmed, steps)
        offset = trial.offset.copy()
        offset[stuck] = _newton(part, calmed, steps).offset
        iterations[stuck] = steps
        trial = problem.tried(offset)
    return Settled(
        onset=onset, offset=trial.offset, circulation=trial.circulation, normal=trial.normal,
        state=trial.state, residual=trial.worst, iterations=iterations,
        settled=trial.worst <= TOLERANCE,
    )  # fmt: skip


def _newton(problem: _Problem, offset: Floats, iterations: NDArray[np.intp]) -> _Trial:
    """Newton's steps, halved while they make things worse; counts them in ``iterations``."""
    trial = problem.tried(offset)
    for _ in range(MOST_STEPS):
        going = trial.worst > TOLERANCE
        if not going.any():
            break
        step = problem.step(trial)
        iterations += going
        length = np.where(going, 1.0, 0.0)
        for _ in range(6):
            candidate = problem.tried(trial.offset + length[:, None] * step)
            better = (candidate.size < trial.size * (1.0 - 1e-4 * length)) | ~going
            if better.all():
                break
            length = np.where(better, length, 0.5 * length)
        trial = candidate
    return trial


def _damped(problem: _Problem, offset: Floats, iterations: NDArray[np.intp]) -> Floats:
    """Small steps against the residual; counts them in ``iterations``."""
    for _ in range(MOST_DAMPED):
        trial = problem.tried(offset)
        if np.all(trial.worst < NEAR):
            break
        offset = offset - RELAXATION * trial.residual
        iterations += 1
    return offset
