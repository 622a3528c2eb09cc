"""What the file's sections change in the lattice's loads: profile drag, lift slope, stall.

The lattice alone has thin sections that never stall. Here strips are brought into agreement with
the sections of the file (:mod:`vlm.sections.coupling`, the same coupling as in power curves), on a
lattice of their own, and the loads of the same lattice with thin sections are taken off:

    change(z) = loads(sections, z) - loads(thin, z)                                     (1)

so that what is exact in the lattice's tables stays exact, and only what the sections do rests on
the coarser lattice. Far-field induced drag takes the place of the surface's, which a fold disturbs.

Where the rotors' thrusts are given, their slipstream stands in the first term and not in the
second. Of a craft without sections that leaves what the slipstream does to the lattice,

    change(z) = loads(thin, z + slipstream) - loads(thin, z)                            (2)
"""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from vlm.air import sea_level_air
from vlm.constants import Floats
from vlm.description.folds import FoldAngles
from vlm.description.models import Biplane
from vlm.flow.onset import onset_velocities
from vlm.flow.threads import algebra_threads
from vlm.lattice.cellule import Cellule, Grid, build_cellule
from vlm.lattice.lattice import resolved
from vlm.power.slipstream import Slipstream
from vlm.power.strip_winds import BlowingRotors, blowing_rotors, strip_places
from vlm.sections.coupling import StripOnset, couple_strips, strip_onset
from vlm.sections.sectioned import sectioned_lattice
from vlm.sections.strip_forces import far_field, lattice_forces, strip_forces

SECTION_GRID = Grid(rows=4, strips=16)
"""Lattice of the strips: stall errs by more than the lattice does (as for power curves)."""
KEPT_CHANGES = 32
"""What sections change in so many of the last sets of states is kept."""


@dataclass(frozen=True)
class SectionChange:
    """Change of the loads by the sections, states in front.

    Attributes
    ----------
    strips : shape (states, strips, 6), force and moment about the moment point of each strip,
        geometry axes [N, N m]
    wrench : shape (states, 6), their sum, and what far-field drag changes [N, N m]
    hinges : by body, moment about its hinge, positive raising the tip, shape (states,) [N m]
    margin : shape (states,), angle of attack left to stall in the strip nearest to it, negative
        past it; infinite with thin sections [rad]
    stalled : shape (states,), share of the wings' area whose sections are past their stall [1]
    agrees : shape (states,), whether strips and sections agree; where not, no value is to be used
    """

    strips: Floats
    wrench: Floats
    hinges: Mapping[str, Floats]
    margin: Floats
    stalled: Floats
    agrees: NDArray[np.bool_]


@dataclass(frozen=True)
class BlownStrips:
    """Change of the lattice's loads by the slipstream, states in front.

    Attributes
    ----------
    force, moment : shape (states, strips, 3), about the moment point, geometry axes [N], [N m]
    hinges : by body, moment about its hinge, positive raising the tip, shape (states,) [N m]
    correction : shape (states, 3), from the surface's induced drag to that of the far field [N]
    circulation : shape (states, strips) [m^2/s]
    """

    force: Floats
    moment: Floats
    hinges: Mapping[str, Floats]
    correction: Floats
    circulation: Floats


class SectionStrips:
    """The strips of one fold setting with the file's sections.

    Parameters
    ----------
    craft : the description, some of whose wings name sections
    folds : commanded folds
    cellule : the craft with its tips flat, panelled; on :data:`SECTION_GRID` if None
    sections : whether the file's sections act; False leaves thin ones

    Raises
    ------
    InputRefused : the geometry or the fold cannot be built
    """

    def __init__(
        self, craft: Biplane, folds: FoldAngles, cellule: Cellule | None = None,
        *, sections: bool = True,
    ) -> None:  # fmt: skip
        cellule = cellule or build_cellule(craft, SECTION_GRID)
        self.craft = craft
        model = sectioned_lattice(craft, resolved(cellule, craft, folds))
        self.model = model if sections else model.thin()
        self._changes: dict[tuple[bytes, float, bytes], SectionChange] = {}

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

    def _met(
        self, amounts: Floats, density: float, thrusts: Floats | None = None
    ) -> tuple[StripOnset, Floats, Floats]:
        """What the strips meet, the stream, and what differs from it at the segments.

        The stream carries the wake off, with the mean slipstream over the wings where there is one.
        """
        at_controls, at_segments = (
            (amounts @ unit.reshape(-1, unit.shape[2]).T).reshape(len(amounts), -1, 3)
            for unit in self.onsets
        )
        carried = stream = amounts[:, :3]
        further = at_segments - stream[:, None, :]
        if thrusts is not None:
            wind = self.wind(stream, density, thrusts)
            panels = len(self.model.controls)
            carried = stream + self.model.mean_velocity(wind[:, :panels])
            at_controls, further = at_controls + wind[:, :panels], further + wind[:, panels:]
        air = sea_level_air(density)
        return strip_onset(self.model, at_controls, air, carried), stream, further

    @cached_property
    def _blowing(self) -> tuple[BlowingRotors, Slipstream]:
        return blowing_rotors(self.craft), Slipstream(self.craft.rotors, *strip_places(self.model))

    def wind(self, stream: Floats, density: float, thrusts: Floats) -> Floats:
        """Slipstream of all rotors at control points, then segments, (states, points, 3) [m/s].

        Parameters
        ----------
        stream : shape (states, 3), geometry axes [m/s]
        thrusts : by rotor, shape (rotors,) [N]
        """
        rotors, blown = self._blowing
        states = rotors.at_work(stream, np.tile(thrusts, (len(stream), 1)), density)
        return rotors.wind(blown, stream, states, density)

    def pressure_ratios(self, stream: Floats, density: float, thrusts: Floats) -> Floats:
        """Dynamic pressure at each strip over that of the stream, shape (states, strips) [1].

        Parameters
        ----------
        stream : shape (states, 3), geometry axes [m/s]
        thrusts : by rotor, shape (rotors,) [N]
        """
        blown = stream[:, None, :] + self.wind(stream, density, thrusts)
        squared = np.sum(blown[:, : len(self.model.controls)] ** 2, axis=2)
        return self.model.strip_means(squared) / self.model.strip_means(
            np.broadcast_to(np.sum(stream**2, axis=1)[:, None], squared.shape)
        )

    def change(
        self, amounts: Floats, density: float, thrusts: Floats | None = None
    ) -> SectionChange:
        """Equation (1) for some states; equation (2) without sections.

        The last few are kept: loads, hinge moments and stall of one flight are asked for one by
        one, and errors with another lattice of the craft.

        Parameters
        ----------
        amounts : amounts of the unit flows, shape (states, columns) [m/s, rad/s]
        density : [kg/m^3]
        thrusts : by rotor, shape (rotors,), whose slipstream blows over the strips; none if None
            [N]
        """
        amounts = np.atleast_2d(amounts)
        asked = (amounts.tobytes(), density, b"" if thrusts is None else thrusts.tobytes())
        if asked not in self._changes:
            if len(self._changes) >= KEPT_CHANGES:
                self._changes.pop(next(iter(self._changes)))
            thin = all(group.polar is None for group in self.model.groups)
            with algebra_threads():
                worked_out = self._thin_change if thin else self._change
                self._changes[asked] = worked_out(amounts, density, thrusts)
        return self._changes[asked]

    def _thin_change(
        self, amounts: Floats, density: float, thrusts: Floats | None
    ) -> SectionChange:
        strips = (
            self._thin_forces(amounts, density, thrusts)[0] - self._thin_forces(amounts, density)[0]
        )
        states = len(amounts)
        return SectionChange(
            strips=strips,
            wrench=strips.sum(axis=1),
            hinges=self._hinges(strips[..., :3], strips[..., 3:]),
            margin=np.full(states, np.inf),
            stalled=np.zeros(states),
            agrees=np.ones(states, dtype=bool),
        )

    def _change(self, amounts: Floats, density: float, thrusts: Floats | None) -> SectionChange:
        onset, stream, further = self._met(amounts, density, thrusts)
        coupled = couple_strips(self.model, onset)
        acting = (onset.normalwash + coupled.offset[:, self.model.spread], coupled.circulation)
        if thrusts is None:
            # Both at once: what they take is reading the tables.
            alone = (onset.normalwash, self.model.circulation(onset.shares, onset.normalwash))
            both = [np.concatenate(pair) for pair in zip(acting, alone, strict=True)]
            twice = [np.concatenate([each, each]) for each in (onset.shares, stream, further)]
            lattice = lattice_forces(self.model, density, twice[0], *both, *twice[1:])
            own, thin = lattice[:, : len(amounts)], lattice[:, len(amounts) :].sum(axis=0)
        else:
            own = lattice_forces(self.model, density, onset.shares, *acting, stream, further)
            thin = self._thin_forces(amounts, density)[0]
        full = strip_forces(self.model, coupled, stream, further, own)
        force, moment = full.force + full.profile, full.moment + full.profile_moment
        strips = np.concatenate([force, moment], axis=2) - thin
        wrench = strips.sum(axis=1)
        wrench[:, :3] += full.correction
        area = self.model.strips.area
        return SectionChange(
            strips=strips,
            wrench=wrench,
            hinges=self._hinges(strips[..., :3], strips[..., 3:]),
            margin=coupled.state.margin.min(axis=1),
            stalled=np.asarray((coupled.state.margin < 0.0) @ area / area.sum()),
            agrees=coupled.converged,
        )

    def _thin_forces(
        self, amounts: Floats, density: float, thrusts: Floats | None = None
    ) -> tuple[Floats, Floats, Floats]:
        """The lattice's forces and moments by strip, (states, strips, 6), the correction to the far
        field's drag, and the circulations of the strips."""
        onset, stream, further = self._met(amounts, density, thrusts)
        circulation = self.model.circulation(onset.shares, onset.normalwash)
        pull, push = lattice_forces(
            self.model, density, onset.shares, onset.normalwash, circulation, stream, further
        )
        _, correction = far_field(
            self.model, onset, np.ones_like(circulation), circulation, stream, further,
            pull[..., :3],
        )  # fmt: skip
        return pull + push, correction, circulation

    def blown_strips(self, amounts: Floats, density: float, thrusts: Floats) -> BlownStrips:
        """Equation (2) strip by strip, whatever sections the file has.

        Parameters
        ----------
        amounts : amounts of the unit flows, shape (states, columns) [m/s, rad/s]
        density : [kg/m^3]
        thrusts : by rotor, shape (rotors,) [N]
        """
        with algebra_threads():
            blown, blown_correction, circulation = self._thin_forces(amounts, density, thrusts)
            plain, correction, still = self._thin_forces(amounts, density)
        force, moment = np.split(blown - plain, 2, axis=-1)
        return BlownStrips(
            force=force,
            moment=moment,
            hinges=self._hinges(force, moment),
            correction=blown_correction - correction,
            circulation=circulation - still,
        )

    def _hinges(self, force: Floats, moment: Floats) -> dict[str, Floats]:
        lattice = self.model.lattice
        found = {}
        for body, line in lattice.hinges.items():
            own = self._strips_of[body]
            found[body] = line.moment(
                force[:, own].sum(axis=1),
                moment[:, own].sum(axis=1),
                lattice.reference.moment_point,
            )
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


def nearest_known(values: Floats, known: NDArray[np.bool_]) -> Floats:
    """States in which strips and sections do not agree take the nearest value that does."""
    places = np.flatnonzero(known)
    if len(places) in (0, len(values)):
        return values if len(places) else np.zeros_like(values)
    nearest = places[np.argmin(np.abs(np.arange(len(values))[:, None] - places), axis=1)]
    return np.asarray(values[nearest])
