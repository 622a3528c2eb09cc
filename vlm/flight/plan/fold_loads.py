"""The one place where plans ask for loads of the lattice at a fold.

Stability, rolling moment and hinge moments of one trim, signed, in the free stream without
slipstream and stall; stability with the drag areas and rotors of the file.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from vlm.air import Air
from vlm.constants import SEA_LEVEL_DENSITY, Floats
from vlm.description.folds import FoldAngles
from vlm.description.models import Biplane
from vlm.errors import InputRefused
from vlm.flight.craft.drag_bodies import DragBodies
from vlm.flight.craft.mass_properties import craft_mass_properties
from vlm.flight.craft.rotor_slopes import NO_SLOPES, idle_slopes
from vlm.flight.trim.powered import POWER_GRID
from vlm.lattice.cellule import Grid
from vlm.loads.coefficients import coefficients, contracted, derivatives
from vlm.loads.craft_loads import Loads
from vlm.loads.fold_engine import Charted, FoldEngine
from vlm.loads.loads_chart import ChartedLoads
from vlm.loads.parts import about_hinges
from vlm.loads.state import FlightState

ANY_SPEED = 10.0
"""At which the rotors' part of stability is worked out, the same at all airspeeds [m/s]."""


@dataclass(frozen=True)
class FoldLoads:
    """Loads of one craft at any symmetric fold.

    Attributes
    ----------
    craft : the description
    air : the air; sea level if None
    engine : loads at like folds of both sides, charted where they are asked for
    pairs : the same with the tips of both sides apart, without what sideslip changes
    solved : the same loads with every fold solved; None where these are solved themselves
    """

    craft: Biplane
    air: Air | None
    engine: FoldEngine
    pairs: FoldEngine
    solved: "FoldLoads | None" = None

    @property
    def exact(self) -> "FoldLoads":
        """These loads with every fold solved."""
        return self.solved or self

    @classmethod
    def of(
        cls,
        craft: Biplane,
        air: Air | None = None,
        grid: Grid | None = None,
        *,
        charted: bool = False,
        reserve_deg: float = 0.0,
    ) -> "FoldLoads":
        """Loads of a craft on a lattice, that of power curves if None.

        Parameters
        ----------
        charted : whether so many folds are asked for that a chart costs less than solving each
        reserve_deg : of the roll that is asked for at many folds, see :meth:`roll_moment` [deg]
        """
        grid = grid or POWER_GRID
        like: Charted = "like folds" if charted else "none"
        return cls(
            craft, air, FoldEngine(craft, grid, fold_rates=False, charted=like),
            FoldEngine(
                craft, grid, fold_rates=False, sideslip=False, charted=like,
                apart_deg=2.0 * reserve_deg,
            ),
            cls.of(craft, air, grid) if charted else None,
        )  # fmt: skip

    def _state(self, alpha_deg: float, speed: float) -> FlightState:
        density = SEA_LEVEL_DENSITY if self.air is None else self.air.density_kg_m3
        return FlightState(alpha=float(np.radians(alpha_deg)), airspeed=speed, density=density)

    def dihedral_effect(self, fold_deg: float, alpha_deg: float, speed: float) -> float:
        """Cl_beta of wings, drag areas and rotors in body axes, negative is stable [1/rad]."""
        loads = self.engine.loads(FoldAngles.symmetric(fold_deg))
        wings = float(derivatives(loads, self._state(alpha_deg, speed))["body"]["Cl_beta"])
        return wings + self._drag_areas(loads, alpha_deg) + self._rotors

    @cached_property
    def _rotors(self) -> float:
        """What rotors without thrust bring to Cl_beta, at any airspeed [1/rad]."""
        if not self.craft.rotors:
            return 0.0
        reference = self.engine.loads(FoldAngles()).reference
        at = 0.0, ANY_SPEED, float(self._state(0.0, ANY_SPEED).density)
        return (idle_slopes(self.craft, reference, *at) or NO_SLOPES)["Cl_beta"][0]

    def _drag_areas(self, loads: Loads, alpha_deg: float) -> float:
        """What the drag areas bring to Cl_beta [1/rad]."""
        if not self.craft.all_drag_areas:
            return 0.0
        masses = craft_mass_properties(self.craft, self.engine.cellule, loads.lattice.folds)
        bodies, alpha = DragBodies.of(self.craft), float(np.radians(alpha_deg))
        return bodies.lateral_slopes(masses.centre, loads.reference, alpha)["Cl_beta"]

    def roll_moment(
        self, fold_deg: float, reserve_deg: float, alpha_deg: float, speed: float
    ) -> float:
        """Rolling moment with the starboard side folded up and the port side down by the reserve.

        Positive starboard wing down. Near the limits less than the reserve is there. NaN where the
        setting cannot be built [N m].
        """
        loads = self._rolled(fold_deg, reserve_deg)
        if loads is None:
            return float("nan")
        state = self._state(alpha_deg, speed)
        return float(coefficients(loads, state).Cl) * _roll_size(loads, state)

    def _rolled(self, fold_deg: float, reserve_deg: float) -> Loads | None:
        low, high = self.craft.fold_range_deg
        port, starboard = max(low, fold_deg - reserve_deg), min(high, fold_deg + reserve_deg)
        try:
            return self.pairs.loads(FoldAngles(port, starboard))
        except InputRefused:
            return None

    def hinge_moments(self, fold_deg: float, alpha_deg: float, speed: float) -> dict[str, float]:
        """Moment of the air about the hinge of each wing's tips, positive raising them [N m]."""
        loads = self.engine.loads(FoldAngles.symmetric(fold_deg))
        found = hinge_moments_of(loads, self._state(alpha_deg, speed))
        return {body: float(moment) for body, moment in found.items()}

    def dihedral_miss(self, fold_deg: float) -> float:
        """How far :meth:`dihedral_effect` may be off where it is read off a chart [1/rad]."""
        return _miss(self.engine.loads(FoldAngles.symmetric(fold_deg)), "Cl_beta")

    def roll_miss(self, fold_deg: float, reserve_deg: float, speed: float) -> float:
        """The same of :meth:`roll_moment` [N m]."""
        loads = self._rolled(fold_deg, reserve_deg)
        return (
            0.0 if loads is None else _miss(loads, "Cl") * _roll_size(loads, self._state(0, speed))
        )

    def hinge_misses(self, fold_deg: float, speed: float) -> dict[str, float]:
        """The same of :meth:`hinge_moments` [N m]."""
        loads = self.engine.loads(FoldAngles.symmetric(fold_deg))
        scale = float(self._state(0.0, speed).density) * speed**2
        return {body: _miss(loads, f"hinge_moment_{body}") * scale for body in loads.lattice.hinges}


def _miss(loads: Loads, name: str) -> float:
    return loads.errors.get(name, 0.0) if isinstance(loads, ChartedLoads) else 0.0


def _roll_size(loads: Loads, state: FlightState) -> float:
    return float(state.dynamic_pressure) * loads.reference.area * loads.reference.span


def hinge_moments_of(loads: Loads, state: FlightState) -> dict[str, Floats]:
    """Moment of the air about each hinge, positive raising the tip [N m]."""
    amounts = state.amounts(loads.reference, loads.columns)
    each = contracted(loads.tables(state).wrench, amounts[..., None, :], amounts[..., None, :])
    scale = np.asarray(state.density * np.square(state.airspeed))
    moments = about_hinges(loads.lattice, np.moveaxis(each, -2, 0))
    return {body: moment * scale for body, moment in moments.items()}
