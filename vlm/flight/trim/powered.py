"""A craft with sections, rotors and masses at one fold setting: loads of any state of flight.

The wings are a lattice coupled to their sections; the rotors blow over them; bodies, struts and
gear are drag areas. Loads are in geometry axes (x aft, y to starboard, z up), moments about the
centre of gravity. The wings do not act on the rotors, and the rotors put no force in their own
plane on the craft.
"""

from dataclasses import dataclass, fields, is_dataclass
from functools import cached_property
from typing import Any

import numpy as np

from vlm.air import Air, standard_air
from vlm.constants import GRAVITY, Floats
from vlm.description.folds import FoldAngles
from vlm.description.models import Biplane
from vlm.description.power import Propulsion, Rotor
from vlm.errors import BlockMissing
from vlm.flight.craft.drag_bodies import DragBodies, drag
from vlm.flight.craft.mass_properties import MassProperties, mass_properties
from vlm.flow.threads import algebra_threads
from vlm.frames import cross
from vlm.lattice.cellule import Cellule, Grid, build_cellule
from vlm.lattice.lattice import resolved
from vlm.power.momentum import DiscFlow, disc_flow, hover_velocity
from vlm.power.rotor import Model, disc_area, rotor_model
from vlm.power.rotor_state import RotorState
from vlm.power.slipstream import Slipstream, Wind
from vlm.power.strip_winds import strip_places
from vlm.sections.coupling import CoupledStrips, couple_strips, strip_onset
from vlm.sections.sectioned import SectionedLattice, sectioned_lattice
from vlm.sections.strip_forces import StripForces, strip_forces
from vlm.sections.turning import StripWake

POWER_GRID = Grid(rows=4, strips=16)
"""Lattice of power curves: coarser than that of single points, as stall and rotors err by more."""
SAME_PLACE = 1e-6
IDLE_SHARE = 0.01


@dataclass(frozen=True)
class PoweredCraft:
    """Everything that is made once for one fold setting.

    Attributes
    ----------
    craft : the description
    folds : commanded folds
    model : the lattice with its sections
    masses : mass and centre of gravity at this fold
    rotor_models : how each rotor makes its thrust
    air : the air
    profile_scale : factor on the drag of the sections [1]
    """

    craft: Biplane
    folds: FoldAngles
    model: SectionedLattice
    masses: MassProperties
    rotor_models: tuple[Model, ...]
    air: Air
    profile_scale: float = 1.0

    @property
    def rotors(self) -> tuple[Rotor, ...]:
        """The rotors."""
        return self.craft.rotors

    @property
    def propulsion(self) -> Propulsion:
        """Motors, controllers, battery."""
        assert self.craft.propulsion is not None
        return self.craft.propulsion

    @property
    def wake(self) -> StripWake:
        """Where the wings' wake leads."""
        return self.model.wake.kind

    @cached_property
    def axes(self) -> Floats:
        """Directions of the rotors' thrust, shape (rotors, 3)."""
        return np.array([rotor.direction for rotor in self.rotors])

    @cached_property
    def positions(self) -> Floats:
        """Centres of the rotors' discs, shape (rotors, 3) [m]."""
        return np.array([rotor.position_m for rotor in self.rotors])

    @cached_property
    def spins(self) -> Floats:
        """+1 for a rotor that turns right-handed about its thrust, else -1, shape (rotors,)."""
        return np.array([rotor.sense for rotor in self.rotors])

    @cached_property
    def areas(self) -> Floats:
        """Areas of the discs, shape (rotors,) [m^2]."""
        return np.array([disc_area(rotor) for rotor in self.rotors])

    @cached_property
    def rotor_kinds(self) -> list[list[int]]:
        """Rotors that differ in place and sense alone, whose states are worked out together."""
        kinds: list[list[int]] = []
        for index, rotor in enumerate(self.rotors):
            alike = (own for own in kinds if _kind(self.rotors[own[0]]) == _kind(rotor))
            found = next(alike, None)
            if found is None:
                kinds.append([index])
            else:
                found.append(index)
        return kinds

    @cached_property
    def idle_power(self) -> float:
        """Shaft power about which a rotor goes over from driving to being driven [W].

        Hundredths of its share in the momentum theory's power in hover.
        """
        share = self.masses.mass * GRAVITY / len(self.rotors)
        hover = hover_velocity(share, self.air.density_kg_m3, float(self.areas.mean()))
        return IDLE_SHARE * share * float(hover)

    @cached_property
    def bodies(self) -> DragBodies:
        """The drag areas."""
        return DragBodies.of(self.craft)

    @cached_property
    def wind_points(self) -> tuple[Floats, Floats]:
        """Where the rotors' wind is asked for, and spans of what is there, (points, 3) [m]."""
        of_strips, across = strip_places(self.model)
        places, spans = [of_strips], [across]
        placed = [area for area in self.craft.all_drag_areas if area.position_m is not None]
        if placed:
            places.append(np.array([area.position_m for area in placed]))
            spans.append(np.array([[0.0, np.sqrt(area.area_m2), 0.0] for area in placed]))
        return np.concatenate(places), np.concatenate(spans)

    @cached_property
    def slipstream(self) -> Slipstream:
        """The rotors' wind at :attr:`wind_points`."""
        return Slipstream(self.rotors, *self.wind_points)

    @cached_property
    def is_symmetric(self) -> bool:
        """Whether port mirrors starboard: wings, masses, and rotors with opposite spins."""
        if not self.model.lattice.is_mirror_symmetric:
            return False
        if abs(float(self.masses.centre[1])) > SAME_PLACE:
            return False
        return all(self._has_mirror_image(index) for index in range(len(self.rotors)))

    def _has_mirror_image(self, index: int) -> bool:
        mirror = np.array([1.0, -1.0, 1.0])
        for other in range(len(self.rotors)):
            place = np.abs(self.positions[other] - mirror * self.positions[index]).max()
            axis = np.abs(self.axes[other] - mirror * self.axes[index]).max()
            alike = _kind(self.rotors[other]) == _kind(self.rotors[index])
            opposite = self.spins[other] == -self.spins[index]
            if place < SAME_PLACE and axis < SAME_PLACE and alike and opposite:
                return True
        return False


def _kind(rotor: Rotor) -> dict[str, Any]:
    return rotor.model_dump(exclude={"name", "position_m", "axis", "spin"})


def powered_craft(
    craft: Biplane,
    folds: FoldAngles,
    *,
    air: Air | None = None,
    grid: Grid | None = None,
    wake: StripWake = "stream",
) -> PoweredCraft:
    """Build a craft for power and trim at one fold setting.

    Parameters
    ----------
    craft : with blocks [mass], [[rotors]] and [propulsion]
    folds : commanded folds
    air : the air; the standard atmosphere at sea level if None
    grid : :data:`POWER_GRID` if None
    wake : carried off by the stream and the mean slipstream over the wings, or along the craft's
        axis

    Raises
    ------
    InputRefused : a block is missing, or the geometry or the fold cannot be built
    """
    check_power_blocks(craft)
    assert craft.mass is not None
    grid = grid or POWER_GRID
    cellule = _flat(craft, grid)
    lattice = resolved(cellule, craft, folds)
    return PoweredCraft(
        craft=craft,
        folds=folds,
        model=sectioned_lattice(craft, lattice, wake=wake),
        masses=mass_properties(craft.mass, cellule.halves, cellule.hinges, lattice.folds),
        rotor_models=tuple(rotor_model(rotor, craft.folder) for rotor in craft.rotors),
        air=air or standard_air(),
    )


_last_flat: list[tuple[Biplane, Grid, Cellule]] = []


def _flat(craft: Biplane, grid: Grid) -> Cellule:
    """The craft panelled with its tips flat; the last one is kept, as folds are asked for in rows.

    Descriptions are frozen, so that the same object is the same craft.
    """
    for known, at, cellule in _last_flat:
        if known is craft and at == grid:
            return cellule
    cellule = build_cellule(craft, grid)
    _last_flat[:] = [(craft, grid, cellule)]
    return cellule


def check_power_blocks(craft: Biplane) -> None:
    """Refuse a craft that lacks a block which power and trim need.

    Raises
    ------
    InputRefused : names what is missing
    """
    blocks = {"[mass]": craft.mass, "[[rotors]]": craft.rotors, "[propulsion]": craft.propulsion}
    missing = [name for name, block in blocks.items() if not block]
    if missing:
        raise BlockMissing(
            f"{craft.source_name}: {', '.join(missing)} {'is' if len(missing) == 1 else 'are'}"
            " missing; power and trim need masses, rotors and propulsion"
        )


@dataclass(frozen=True)
class FlightLoads:
    """Loads of some states, geometry axes, moments about the centre of gravity.

    Attributes
    ----------
    stream : shape (states, 3), the free stream [m/s]
    strips : loads of the wings' strips
    coupled : how the strips agree with their sections
    body_force, body_moment : shape (states, 3), of the drag areas [N], [N m]
    rotor_force, rotor_moment : shape (states, 3), thrust, and moments of thrust and torque
    rotors : state of each rotor
    wind : of the rotors on wings and bodies; None without slipstream
    offset : from the wings' moment point to the centre of gravity [m]
    profile_scale : factor on the drag of the sections [1]
    """

    stream: Floats
    strips: StripForces
    coupled: CoupledStrips
    body_force: Floats
    body_moment: Floats
    rotor_force: Floats
    rotor_moment: Floats
    rotors: tuple[RotorState, ...]
    wind: Wind | None
    offset: Floats
    profile_scale: float = 1.0

    def wings(self) -> tuple[Floats, Floats]:
        """Force and moment of the wings, shape (states, 3) each [N], [N m]."""
        force, moment = self.strips.total(self.profile_scale)
        return force, moment - cross(self.offset, force)

    @cached_property
    def total(self) -> tuple[Floats, Floats]:
        """Force and moment of everything but weight, shape (states, 3) each [N], [N m]."""
        force, moment = self.wings()
        return (
            force + self.body_force + self.rotor_force,
            moment + self.body_moment + self.rotor_moment,
        )

    @cached_property
    def shaft_powers(self) -> Floats:
        """Power at each shaft, shape (states, rotors) [W]."""
        return np.stack([state.power for state in self.rotors], axis=1)


def flight_loads(
    craft: PoweredCraft,
    speed: Floats,
    alpha: Floats,
    thrusts: Floats,
    start: Floats | None = None,
    *,
    alike: bool = False,
) -> FlightLoads:
    """Loads without sideslip or rates.

    Parameters
    ----------
    speed, alpha : shape (states,), airspeed [m/s] and angle of attack [rad]
    thrusts : shape (states, rotors) [N]
    start, alike : offsets of the strips to start from, and whether all states lie beside the
        first, see :func:`vlm.sections.coupling.couple_strips`
    """
    with algebra_threads():
        return _flight_loads(craft, speed, alpha, thrusts, start, alike)


def _flight_loads(
    craft: PoweredCraft,
    speed: Floats,
    alpha: Floats,
    thrusts: Floats,
    start: Floats | None,
    alike: bool,
) -> FlightLoads:
    stream = speed[:, None] * np.stack([np.cos(alpha), 0.0 * alpha, np.sin(alpha)], axis=1)
    rotors = tuple(rotor_states(craft, stream, thrusts))
    wind = _wind(craft, stream, rotors)
    further = None if wind is None else wind.velocity
    panels, segments = len(craft.model.controls), len(craft.model.segments)
    velocity = np.broadcast_to(stream[:, None, :], (len(speed), panels, 3))
    if further is not None:
        velocity = velocity + further[:, :panels]
    # Rotors that pull unlike blow aside as well; the wake stays in the plane of the stream.
    carried = craft.model.mean_velocity(velocity) * (1.0, 0.0, 1.0)
    onset = strip_onset(craft.model, velocity, craft.air, carried)
    coupled = couple_strips(craft.model, onset, start, alike=alike)
    blown = None if further is None else further[:, panels : panels + segments]
    forces = strip_forces(craft.model, coupled, stream, blown)
    body_force, body_moment = _body_loads(
        craft, stream, None if further is None else further[:, panels + segments :]
    )
    rotor_force, rotor_moment = _rotor_loads(craft, thrusts, rotors)
    return FlightLoads(
        stream=stream,
        strips=forces,
        coupled=coupled,
        body_force=body_force,
        body_moment=body_moment,
        rotor_force=rotor_force,
        rotor_moment=rotor_moment,
        rotors=rotors,
        wind=wind,
        offset=craft.masses.centre - craft.model.lattice.reference.moment_point,
        profile_scale=craft.profile_scale,
    )


def rotor_states(craft: PoweredCraft, stream: Floats, thrusts: Floats) -> list[RotorState]:
    """The rotors in streams (states, 3) [m/s], at thrusts (states, rotors) [N]."""
    axial = -stream @ craft.axes.T
    across = stream[:, None, :] + axial[:, :, None] * craft.axes
    edgewise = np.sqrt(np.sum(across**2, axis=2))
    states: list[RotorState | None] = [None] * len(craft.rotors)
    density = craft.air.density_kg_m3
    for own in craft.rotor_kinds:
        area, model = float(craft.areas[own[0]]), craft.rotor_models[own[0]]
        flow = disc_flow(thrusts[:, own], axial[:, own], edgewise[:, own], density, area)
        together = model.state(flow, density)
        for place, index in enumerate(own):
            states[index] = _one_rotor(together, place)
    return [state for state in states if state is not None]


def _one_rotor(together: RotorState, place: int) -> RotorState:
    """One of several rotors whose states stand in columns."""
    flow = together.flow
    parts = (flow.thrust, flow.axial, flow.edgewise, flow.hover, flow.induced)
    return RotorState(
        DiscFlow(*(part[:, place] for part in parts)),
        together.speed[:, place],
        together.power[:, place],
        together.torque[:, place],
        together.in_range[:, place],
    )


def _wind(craft: PoweredCraft, stream: Floats, rotors: tuple[RotorState, ...]) -> Wind | None:
    """The wind of all rotors at :attr:`PoweredCraft.wind_points`; None without slipstream."""
    if not craft.propulsion.slipstream:
        return None
    swirls = None
    if craft.propulsion.swirl:
        swirls = [state.torque / craft.air.density_kg_m3 for state in rotors]
    return craft.slipstream.winds([state.flow for state in rotors], stream, swirls)


def _rotor_loads(
    craft: PoweredCraft, thrusts: Floats, rotors: tuple[RotorState, ...]
) -> tuple[Floats, Floats]:
    """Thrust along the axes, and the moments of thrust and of the reaction to the torque."""
    arms = craft.positions - craft.masses.centre
    torques = np.stack([state.torque for state in rotors], axis=1)
    moment = thrusts @ cross(arms, craft.axes) - (torques * craft.spins) @ craft.axes
    return thrusts @ craft.axes, moment


def _body_loads(
    craft: PoweredCraft, stream: Floats, further: Floats | None
) -> tuple[Floats, Floats]:
    """Drag of the drag areas in the stream, and in the rotors' wind where they have a place."""
    bodies = craft.bodies
    velocity = np.repeat(stream[:, None, :], len(bodies.areas), axis=1)
    if further is not None:
        velocity[:, bodies.placed] += further
    pull = drag(bodies.areas, velocity, craft.air.density_kg_m3)
    return pull.sum(axis=1), cross(bodies.arms(craft.masses.centre), pull).sum(axis=1)


def one_state(loads: FlightLoads, index: int) -> FlightLoads:
    """The loads of one of several states, still with a first axis of length 1."""
    taken = _taken(loads, index)
    assert isinstance(taken, FlightLoads)
    return taken


def _taken(value: Any, index: int) -> Any:
    """One state out of arrays, tuples and dataclasses that have the states in front."""
    if isinstance(value, np.ndarray):
        return value[index : index + 1]
    if isinstance(value, tuple):
        return tuple(_taken(item, index) for item in value)
    if is_dataclass(value) and not isinstance(value, type | Air):
        kept = {"offset"} if isinstance(value, FlightLoads) else set()
        parts = {f.name: getattr(value, f.name) for f in fields(value)}
        return type(value)(
            **{name: part if name in kept else _taken(part, index) for name, part in parts.items()}
        )
    return value
