"""The rotors' wind over the strips of a lattice, at thrusts that are given."""

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from vlm.constants import Floats
from vlm.description.models import Biplane
from vlm.description.power import Propulsion, Rotor
from vlm.power.momentum import disc_flow
from vlm.power.rotor import Model, disc_area, rotor_model
from vlm.power.rotor_state import RotorState
from vlm.power.slipstream import Slipstream
from vlm.sections.sectioned import SectionedLattice


@dataclass(frozen=True)
class BlowingRotors:
    """The rotors of a craft as what blows over its wings.

    Attributes
    ----------
    rotors : the rotors
    models : how each makes its thrust
    swirl : whether the wind turns as well
    axes : directions of thrust, geometry axes, shape (rotors, 3) [1]
    areas : of the discs, shape (rotors,) [m^2]
    spins : +1 right-handed about the thrust, shape (rotors,)
    """

    rotors: tuple[Rotor, ...]
    models: tuple[Model, ...]
    swirl: bool
    axes: Floats = field(init=False)
    areas: Floats = field(init=False)
    spins: Floats = field(init=False)

    def __post_init__(self) -> None:
        axes = np.array([rotor.direction for rotor in self.rotors])
        object.__setattr__(self, "axes", axes)
        object.__setattr__(self, "areas", np.array([disc_area(rotor) for rotor in self.rotors]))
        spins = np.array([rotor.sense for rotor in self.rotors])
        object.__setattr__(self, "spins", spins)

    def at_work(self, stream: Floats, thrusts: Floats, density: float) -> tuple[RotorState, ...]:
        """State of each rotor in streams (states, 3) [m/s], at thrusts (states, rotors) [N]."""
        axial = -stream @ self.axes.T
        across = stream[:, None, :] + axial[:, :, None] * self.axes
        edgewise = np.linalg.norm(across, axis=2)
        return tuple(
            model.state(
                disc_flow(thrusts[:, i], axial[:, i], edgewise[:, i], density, self.areas[i]),
                density,
            )
            for i, model in enumerate(self.models)
        )

    def wind(
        self, blown: Slipstream, stream: Floats, states: Sequence[RotorState], density: float
    ) -> Floats:
        """Velocity that all rotors add at the slipstream's points, (states, points, 3) [m/s]."""
        swirls = [state.torque / density for state in states] if self.swirl else None
        return blown.winds([state.flow for state in states], stream, swirls).velocity


def blowing_rotors(craft: Biplane) -> BlowingRotors:
    """The rotors of a craft that has some."""
    return BlowingRotors(
        craft.rotors,
        tuple(rotor_model(rotor, craft.folder) for rotor in craft.rotors),
        isinstance(craft.propulsion, Propulsion) and craft.propulsion.swirl,
    )


def strip_places(model: SectionedLattice) -> tuple[Floats, Floats]:
    """Control points, then segments, and the spans of their strips, (points, 3) each [m]."""
    across = model.strips.span[:, None] * model.strips.turning
    owners = model.owners
    return (
        np.concatenate([model.controls, model.segments]),
        np.concatenate([across[model.spread], owners.T @ across / owners.sum(axis=0)[:, None]]),
    )
