"""Where the power of a trim goes: drag by its sources, rotors, motors; and what pitch trim costs.

Along the flight path the rotors' thrust T takes T V_a from their shafts, which is what drag and
climb take: with D the drag of wings and bodies in the direction of the stream,

    sum T V_a = D V + W V sin gamma                                                    (1)

The rest of the shafts' power goes into the air that the rotors set in motion (T v), and into the
blades' drag and what makes the flow through the disc uneven. So all parts add up to the electrical
power. The drag that the rotors' wind adds to wings and bodies, by its speed and by tilting their
lift, is a part of its own; it is negative where the tilt pulls ahead.
"""

from collections.abc import Mapping
from dataclasses import dataclass, fields

import numpy as np

from vlm.constants import Floats
from vlm.flight.craft.drag_bodies import drag
from vlm.flight.trim.powered import FlightLoads, PoweredCraft, rotor_states
from vlm.flight.trim.trim import Trim, TrimProblem
from vlm.flight.trim.trim_measures import limit_margins
from vlm.power.propulsion import electrical_power


@dataclass(frozen=True)
class DragParts:
    """Drag by its source, in the direction of the stream [N].

    Attributes
    ----------
    induced : of the velocities that the wings induce
    profile : of the sections in the free stream's speed, pressure past stall included
    body : of the drag areas in the free stream
    slipstream : what the rotors' wind adds to all of them
    """

    induced: float
    profile: float
    body: float
    slipstream: float

    @property
    def total(self) -> float:
        """All parts together [N]."""
        return self.induced + self.profile + self.body + self.slipstream


@dataclass(frozen=True)
class PowerParts:
    """Electrical power of one trim by where it goes; the fields add up to it [W].

    Attributes
    ----------
    induced, profile, body, slipstream : drag times airspeed, see :class:`DragParts`
    climb : weight times the rate of climb
    rotor_induced : the air that the rotors set in motion, by momentum theory
    rotor_blades : drag of the blades, and what the rotors need beyond momentum theory
    motors : losses of motors and controllers, and of braking
    fixed_load : avionics and payload
    """

    induced: float
    profile: float
    body: float
    slipstream: float
    climb: float
    rotor_induced: float
    rotor_blades: float
    motors: float
    fixed_load: float

    @property
    def values(self) -> Mapping[str, float]:
        """The parts by name [W]."""
        return {field.name: getattr(self, field.name) for field in fields(self)}


def drag_parts(craft: PoweredCraft, loads: FlightLoads) -> DragParts:
    """Drag of one state by its source; nothing in a hover."""
    stream = loads.stream[0]
    speed = float(np.linalg.norm(stream))
    if speed == 0.0:
        return DragParts(0.0, 0.0, 0.0, 0.0)
    wind = stream / speed
    strips = loads.strips
    induced = float(strips.induced_force[0] @ wind)
    wings = float(loads.wings()[0][0] @ wind)
    unblown = _unblown_profile(craft, loads, wind)
    still = sum(
        float(one @ wind) for one in drag(craft.bodies.areas, loads.stream, craft.air.density_kg_m3)
    )
    body = float(loads.body_force[0] @ wind)
    return DragParts(induced, unblown, still, wings + body - induced - unblown - still)


def _unblown_profile(craft: PoweredCraft, loads: FlightLoads, wind: Floats) -> float:
    """Profile drag with the sections' coefficients, but in the free stream [N]."""
    strips, coupled = craft.model.strips, loads.coupled
    across = loads.stream[0] - (strips.turning @ loads.stream[0])[:, None] * strips.turning
    squared = np.sum(across**2, axis=1)
    half = 0.5 * craft.air.density_kg_m3 * strips.area * coupled.state.cd[0]
    if loads.wind is None:
        return float(loads.strips.profile[0].sum(axis=0) @ wind)
    return float(np.sum(half * np.sqrt(squared) * (across @ wind)))


def power_parts(problem: TrimProblem, trim: Trim) -> PowerParts:
    """Electrical power of a trim by where it goes."""
    craft, loads = problem.craft, trim.loads
    drags, speed = drag_parts(craft, loads), trim.speed
    shafts = loads.shaft_powers[0]
    drawn = float(electrical_power(craft.propulsion, shafts, idle=craft.idle_power))
    useful = sum(float((s.flow.thrust * s.flow.axial)[0]) for s in loads.rotors)
    moved = sum(float((s.flow.thrust * s.flow.induced)[0]) for s in loads.rotors)
    fixed = craft.propulsion.fixed_load_W
    return PowerParts(
        induced=drags.induced * speed,
        profile=drags.profile * speed,
        body=drags.body * speed,
        slipstream=drags.slipstream * speed,
        climb=problem.weight * speed * float(np.sin(trim.climb_angle)),
        rotor_induced=moved,
        rotor_blades=float(shafts.sum()) - useful - moved,
        motors=drawn - fixed - float(shafts.sum()),
        fixed_load=fixed,
    )


@dataclass(frozen=True)
class EqualThrusts:
    """The rotors of a trim if all gave the mean thrust, their moments left unbalanced.

    Attributes
    ----------
    thrust : of each [N]
    shafts : shape (rotors,) [W]
    power : electrical [W]
    """

    thrust: float
    shafts: Floats
    power: float


def equal_thrusts(problem: TrimProblem, trim: Trim) -> EqualThrusts:
    """What the rotors would take if none of them had to pitch the craft."""
    craft = problem.craft
    mean = float(trim.thrusts.mean())
    thrusts = np.full((1, len(craft.rotors)), mean)
    shafts = np.array([float(s.power[0]) for s in rotor_states(craft, trim.loads.stream, thrusts)])
    power = float(electrical_power(craft.propulsion, shafts, idle=craft.idle_power))
    return EqualThrusts(mean, shafts, power)


def equal_margins(problem: TrimProblem, trim: Trim) -> dict[str, float]:
    """Distances to the limits with equal thrusts on all rotors, by the limits' names [1]."""
    equal = equal_thrusts(problem, trim)
    thrusts = np.full(len(problem.craft.rotors), equal.thrust)
    return limit_margins(problem.craft, thrusts, equal.shafts, equal.power)


@dataclass(frozen=True)
class RotorPoint:
    """One rotor of a trim.

    Attributes
    ----------
    name : as in the file
    thrust_N, speed_rpm, torque_N_m, shaft_power_W : what it does; power below zero where the air
        drives it [N], [rpm], [N m], [W]
    """

    name: str
    thrust_N: float
    speed_rpm: float
    torque_N_m: float
    shaft_power_W: float


def rotor_points(craft: PoweredCraft, trim: Trim) -> tuple[RotorPoint, ...]:
    """What each rotor does at a trim."""
    return tuple(
        RotorPoint(
            rotor.name, float(state.flow.thrust[0]), float(state.speed[0]) * 30.0 / np.pi,
            float(state.torque[0]), float(state.power[0]),
        )
        for rotor, state in zip(craft.rotors, trim.loads.rotors, strict=True)
    )  # fmt: skip
