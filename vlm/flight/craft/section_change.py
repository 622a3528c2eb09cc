"""What the file's sections change in the lattice's loads: profile drag, lift slope, stall.

The lattice alone has thin sections that never stall. Here strips are brought into agreement with
the sections of the file (:mod:`vlm.sections.coupling`, the same coupling as in power curves), on a
lattice of their own, and the loads of the same lattice with thin sections are taken off:

    change(z) = loads(sections, z) - loads(thin, z)                                     (1)

so that what is exact in the lattice's tables stays exact, and only what the sections do rests on
the coarser lattice. Far-field induced drag takes the place of the surface's, which a fold disturbs.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from vlm.air import standard_air
from vlm.constants import Floats
from vlm.description.folds import FoldAngles
from vlm.description.models import Biplane
from vlm.flow.onset import onset_velocities
from vlm.flow.threads import algebra_threads
from vlm.frames import cross
from vlm.lattice.cellule import Cellule, Grid, build_cellule
from vlm.lattice.lattice import resolved
from vlm.sections.coupling import Settled, StripOnset, section_state, settle, strip_onset
from vlm.sections.sectioned import THIN, SectionGroup, sectioned_lattice
from vlm.sections.strip_forces import strip_forces

SECTION_GRID = Grid(rows=4, strips=16)
"""Lattice of the strips: stall errs by more than the lattice does (as for power curves)."""


class _NearTheChord(StripOnset):
    """An onset in which the lattice counts everywhere, as it does in its own tables."""

    @cached_property
    def attached(self) -> Floats:
        return np.ones_like(self.tangential)


@dataclass(frozen=True)
class SectionChange:
    """Change of the loads by the sections, states in front.

    Attributes
    ----------
    wrench : shape (states, 6), force and moment about the moment point, geometry axes [N, N m]
    hinges : by body, moment about its hinge, positive raising the tip, shape (states,) [N m]
    margin : shape (states,), angle of attack left to stall in the strip nearest to it, negative
        past it; infinite with thin sections [rad]
    stalled : shape (states,), share of the wings' area whose sections are past their stall [1]
    agrees : shape (states,), whether strips and sections agree; where not, no value is to be used
    """

    wrench: Floats
    hinges: Mapping[str, Floats]
    margin: Floats
    stalled: Floats
    agrees: NDArray[np.bool_]


class SectionStrips:
    """The strips of one fold setting with the file's sections.

    Parameters
    ----------
    craft : the description, some of whose wings name sections
    folds : commanded folds
    cellule : the craft with its tips flat, panelled; on :data:`SECTION_GRID` if None

    Raises
    ------
    InputRefused : the geometry or the fold cannot be built
    """

    def __init__(self, craft: Biplane, folds: FoldAngles, cellule: Cellule | None = None) -> None:
        cellule = cellule or build_cellule(craft, SECTION_GRID)
        self.model = sectioned_lattice(craft, resolved(cellule, craft, folds))
        everywhere = SectionGroup("", THIN, None, np.arange(self.model.strips.count))
        self.thin = replace(self.model, groups=(everywhere,))

    @cached_property
    def onsets(self) -> tuple[Floats, Floats]:
        """Unit onset flows at control points and at segments, shape (m, 3, columns) each."""
        lattice, first = self.model.lattice, 0
        controls, segments = self.model.controls, self.model.segments
        at_controls, at_segments = [], []
        for index, patch in enumerate(lattice.patches):
            own = controls[lattice.panels_of(index)]
            at_controls.append(onset_velocities(lattice, patch, own))
            count = patch.rows * (2 * patch.strips + 1)
            at_segments.append(onset_velocities(lattice, patch, segments[first : first + count]))
            first += count
        return np.concatenate(at_controls), np.concatenate(at_segments)

    def _met(self, amounts: Floats) -> tuple[Floats, Floats, Floats]:
        """Velocity at the control points, the stream, and what differs from it at the segments."""
        at_controls, at_segments = (
            (amounts @ unit.reshape(-1, unit.shape[2]).T).reshape(len(amounts), -1, 3)
            for unit in self.onsets
        )
        stream = amounts[:, :3]
        return at_controls, stream, at_segments - stream[:, None, :]

    def change(self, amounts: Floats, density: float) -> SectionChange:
        """Equation (1) for some states.

        Parameters
        ----------
        amounts : amounts of the unit flows, shape (states, columns) [m/s, rad/s]
        density : [kg/m^3]
        """
        with algebra_threads():
            return self._change(np.atleast_2d(amounts), density)

    def _change(self, amounts: Floats, density: float) -> SectionChange:
        air = replace(standard_air(), density_kg_m3=density)
        velocity, stream, further = self._met(amounts)
        onset = strip_onset(self.model, velocity, air)
        settled = settle(self.model, onset)
        full = strip_forces(self.model, settled, stream, further)
        force, moment = full.force + full.profile, full.moment + full.profile_moment
        total = np.concatenate([force.sum(axis=1) + full.correction, moment.sum(axis=1)], axis=1)
        hinges = self._hinges(force, moment)
        pairs = (amounts[:, :, None] * amounts[:, None, :]).reshape(len(amounts), -1)
        thin = density * (pairs @ self.thin_table)
        area = self.model.strips.area
        return SectionChange(
            wrench=total - thin[:, :6],
            hinges={body: hinges[body] - thin[:, 6 + i] for i, body in enumerate(hinges)},
            margin=settled.state.margin.min(axis=1),
            stalled=np.asarray((settled.state.margin < 0.0) @ area / area.sum()),
            agrees=settled.settled,
        )

    @cached_property
    def thin_table(self) -> Floats:
        """Loads with thin sections as bilinear forms of the amounts, unit density.

        shape (columns squared, 6 + hinges): wrench, and the moment about each hinge. They come
        from the loads of all pairs of unit flows: T(a, b) = (T(a + b) - T(a) - T(b)) / 2.
        """
        count = self.onsets[0].shape[2]
        unit = np.eye(count)
        first, second = np.triu_indices(count, 1)
        values = self._thin_loads(np.concatenate([unit, unit[first] + unit[second]]))
        table = np.zeros((count, count, values.shape[1]))
        table[np.arange(count), np.arange(count)] = values[:count]
        mixed = 0.5 * (values[count:] - values[first] - values[second])
        table[first, second] = table[second, first] = mixed
        return table.reshape(count**2, -1)

    def _thin_loads(self, amounts: Floats) -> Floats:
        air = replace(standard_air(), density_kg_m3=1.0)
        velocity, stream, further = self._met(amounts)
        onset = strip_onset(self.model, velocity, air)
        thin = strip_forces(self.thin, self._thin(onset), stream, further)
        hinges = self._hinges(thin.force, thin.moment)
        return np.column_stack([thin.force.sum(axis=1), thin.moment.sum(axis=1), *hinges.values()])

    def _thin(self, onset: StripOnset) -> Settled:
        """The lattice by itself: no offsets, nothing to agree on."""
        plain = _NearTheChord(
            onset.normalwash, onset.tangential, onset.normal, onset.spanwise, onset.air
        )
        nothing = np.zeros_like(onset.tangential)
        state = section_state(self.thin, onset.tangential, onset.normal, onset.air)
        states = len(nothing)
        return Settled(
            onset=plain, offset=nothing, circulation=onset.normalwash @ self.model.trailing.T,
            normal=onset.normal, state=state, residual=np.zeros(states),
            iterations=np.zeros(states, dtype=np.intp), settled=np.ones(states, dtype=bool),
        )  # fmt: skip

    def _hinges(self, force: Floats, moment: Floats) -> dict[str, Floats]:
        lattice = self.model.lattice
        found = {}
        for body, line in lattice.hinges.items():
            own = self._strips_of[body]
            arm = lattice.reference.moment_point - line.point
            # (arm x force) . axis = force . (axis x arm)
            lever = cross(line.axis, arm)
            found[body] = moment[:, own].sum(axis=1) @ line.axis + force[:, own].sum(axis=1) @ lever
        return found

    @cached_property
    def _strips_of(self) -> dict[str, NDArray[np.intp]]:
        """Strips of each tip."""
        bodies = np.array([patch.body for patch in self.model.lattice.patches])
        own = bodies[self.model.strips.patch]
        return {body: np.flatnonzero(own == body) for body in self.model.lattice.hinges}


def has_sections(craft: Biplane) -> bool:
    """Whether any wing or tip names a section that is not thin."""
    names = [name for name in craft.named_sections.values() if name]
    return any(craft.sections[name].form != "thin" for name in names)
