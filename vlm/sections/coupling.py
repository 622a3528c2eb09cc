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

Far from the chord line the lattice stops making sense: its wake leaves smoothly, at most 18 degrees
from the craft's axis, which the flow no longer does. Between 25 and 45 degrees of onset the induced
velocity is faded out, and beyond that a strip sees the onset flow alone; its coefficients past
stall are those of a whole wing and need no induced angle.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from vlm.air import Air
from vlm.constants import Floats
from vlm.sections import kernel
from vlm.sections.kernel import TINY, agreed, lattice_shares, met, section_fields
from vlm.sections.sectioned import SectionedLattice

TOLERANCE = 1e-11
MOST_STEPS = 40
MOST_DAMPED = 400
LONGEST_STEP = 0.5
FADE_START = np.radians(25.0)
FADE_WIDTH = np.radians(20.0)
STILL = 0.1


@dataclass(frozen=True)
class StripOnset:
    """What the strips of a lattice meet before the lattice acts on it; states in front.

    Attributes
    ----------
    normalwash : shape (states, panels), onset velocity along the panels' normals [m/s]
    tangential : shape (states, strips), along the chord, v_t [m/s]
    normal : shape (states, strips), along the strip's normal [m/s]
    spanwise : shape (states, strips), along the strip's quarter-chord line [m/s]
    shares : shape (states, directions), what each direction of the wake counts [1]
    air : the air
    """

    normalwash: Floats
    tangential: Floats
    normal: Floats
    spanwise: Floats
    shares: Floats
    air: Air

    @cached_property
    def scale(self) -> Floats:
        """Root mean square speed of the strips' onset, shape (states,) [m/s]."""
        return np.asarray(np.sqrt(np.mean(self.tangential**2 + self.normal**2, axis=1)) + TINY)

    @property
    def from_wind(self) -> Floats:
        """Angle between a strip's chord and what it meets, shape (states, strips) [rad]."""
        return np.asarray(np.arctan2(np.hypot(self.normal, self.spanwise), self.tangential))

    @cached_property
    def attached(self) -> Floats:
        """How much the lattice counts in each strip: 1 near the chord line, 0 far from it.

        Strips in all but still air, out of the rotors' wind in a hover, count as far from it.
        """
        return np.asarray(
            lattice_shares(
                self.tangential, self.normal, self.spanwise, self.scale, FADE_START, FADE_WIDTH,
                STILL,
            )
        )  # fmt: skip


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
class CoupledStrips:
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
    converged : shape (states,), whether the residual came below the tolerance
    """

    onset: StripOnset
    offset: Floats
    circulation: Floats
    normal: Floats
    state: StripState
    residual: Floats
    iterations: NDArray[np.intp]
    converged: NDArray[np.bool_]


def strip_onset(
    model: SectionedLattice, velocity: Floats, air: Air, carried: Floats | None = None
) -> StripOnset:
    """Onset flow by panel and strip.

    Parameters
    ----------
    velocity : shape (states, panels, 3), onset velocity at the control points, geometry axes [m/s]
    carried : shape (states, 3), velocity of the air that carries the wake off [m/s]; the mean of
        what the wings meet if None
    """
    if carried is None:
        carried = model.mean_velocity(velocity)
    normalwash, (tangential, normal, spanwise) = met(
        np.ascontiguousarray(velocity), model.panel_axes, model.spread, model.row_weights,
        model.strips.count,
    )  # fmt: skip
    shares = model.wake.shares(carried)
    return StripOnset(normalwash, tangential, normal, spanwise, shares, air)


def section_state(
    model: SectionedLattice, tangential: Floats, normal: Floats, air: Air
) -> StripState:
    """What the sections do at velocities v_t and v_n, shape (states, strips) each [m/s]."""
    return _as_state(
        section_fields(tangential, normal, air.kinematic_viscosity_m2_s, model.packed_sections)
    )


def _as_state(fields: Floats) -> StripState:
    """Named fields of an array (states, fields, strips)."""
    return StripState(
        speed=fields[:, kernel.SPEED],
        alpha=fields[:, kernel.ALPHA],
        reynolds=fields[:, kernel.REYNOLDS],
        cl=fields[:, kernel.CL],
        cd=fields[:, kernel.CD],
        cm=fields[:, kernel.CM],
        circulation=fields[:, kernel.CIRCULATION],
        circulation_slope=fields[:, kernel.SLOPE],
        separation=fields[:, kernel.SEPARATION],
        margin=fields[:, kernel.MARGIN],
    )


def couple_strips(
    model: SectionedLattice,
    onset: StripOnset,
    start: Floats | None = None,
    *,
    alike: bool = False,
) -> CoupledStrips:
    """Bring the strips into agreement with their sections.

    Newton's method, its steps halved while they make things worse; where that does not lead there,
    small steps against the disagreement first (:mod:`vlm.sections.kernel`).

    Parameters
    ----------
    start : shape (states, strips), offsets to start from, such as those of a state nearby [m/s]
    alike : whether all states lie so near to the first that they start from where it ended
    """
    shape = onset.tangential.shape
    first = np.zeros(shape) if start is None else np.array(np.broadcast_to(start, shape), order="C")
    limits = (MOST_STEPS, MOST_DAMPED, LONGEST_STEP, TOLERANCE)
    base = model.circulation(onset.shares, onset.normalwash)
    offset, circulation, normal, fields, residual, iterations = agreed(
        limits, first, alike, base, onset.tangential, onset.normal, onset.attached, onset.scale,
        onset.air.kinematic_viscosity_m2_s, model.packed_lattice(onset.shares),
        model.packed_sections,
    )  # fmt: skip
    return CoupledStrips(
        onset=onset, offset=offset, circulation=circulation, normal=normal,
        state=_as_state(fields), residual=residual, iterations=iterations,
        converged=residual <= TOLERANCE,
    )  # fmt: skip
