"""Intervals of a power curve from stated uncertainties of its inputs.

At every speed the loads are tabulated once around the trim: values, slopes and curvatures with the
body angle and the thrusts, of the loads and of the shafts' power, with the parts that uncertain
inputs scale kept apart. Each sample of the inputs is then trimmed on that small table. All fold
settings share the samples, so that a difference between two is known better than either.
"""

from dataclasses import dataclass, fields, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from vlm.constants import Floats
from vlm.description.uncertainty import Uncertainty
from vlm.flight.trim.power_curve import PowerCurve, PowerPoint
from vlm.flight.trim.powered import FlightLoads, PoweredCraft, flight_loads
from vlm.flight.trim.trim import TrimProblem, climbing_turn, gravity_direction
from vlm.flight.trim.trim_measures import driven_margin, stall_margins
from vlm.power.propulsion import electrical_power

INPUTS = (
    "mass", "profile_drag", "lift_maximum", "drag_area", "efficiency", "rotor_power", "fixed_load",
    "post_stall",
)  # fmt: skip
"""Uncertain inputs, in the order of the samples' columns."""
WIDEST = 3.0
"""Samples lie within so many standard deviations."""
TURN = np.radians(1.0)
PULL = 0.01
LIFT_CHANGE = 0.03
STALLED_CHANGE = 0.05
MOST_STEPS = 12
CONVERGED = 1e-7
LONGEST = 0.05


def input_samples(uncertainty: Uncertainty) -> Floats:
    """Factors on the uncertain inputs, shape (samples, inputs); normal, cut at three deviations."""
    random = np.random.default_rng(uncertainty.seed)
    spread = np.array([getattr(uncertainty, f"{name}_percent") for name in INPUTS]) / 100.0
    normal = random.standard_normal((4 * uncertainty.samples, len(INPUTS)))
    inside = normal[np.all(np.abs(normal) <= WIDEST, axis=1)]
    return np.asarray(1.0 + spread * inside[: uncertainty.samples])


@dataclass(frozen=True)
class LoadTable:
    """Loads around one trim to second order in its unknowns.

    Attributes
    ----------
    problem : the balances
    speed, climb_angle : [m/s], [rad]
    unknown : shape (unknowns,), of the trim the table stands around
    value : shape (parts,): six loads, the power of every shaft, the stall margin
    slope : shape (parts, unknowns)
    curve : shape (parts, unknowns, unknowns), second derivatives
    profile, body : shape (6,), the parts of the loads that sections and drag areas give
    profile_slope : shape (6, unknowns)
    lift : shape (parts,), change of all with the sections' highest lift
    stalled : shape (parts,), change of all with the sections' force past stall
    """

    problem: TrimProblem
    speed: float
    climb_angle: float
    unknown: Floats
    value: Floats
    slope: Floats
    curve: Floats
    profile: Floats
    profile_slope: Floats
    body: Floats
    lift: Floats
    stalled: Floats

    @cached_property
    def rows(self) -> list[int]:
        """The balances that are solved."""
        return list(self.problem.equations)

    def at(self, change: Floats, factors: Floats) -> tuple[Floats, Floats]:
        """Values and slopes, (samples, parts) and (samples, parts, unknowns)."""
        bent = np.einsum("pij,sj->spi", self.curve, change)
        slope = self.slope + bent
        value = self.value + np.einsum("spi,si->sp", self.slope + 0.5 * bent, change)
        value = value + (factors[:, 2:3] - 1.0) * self.lift
        value = value + (factors[:, 7:8] - 1.0) * self.stalled
        more = factors[:, 1:2] - 1.0
        value[:, :6] += more * (self.profile + change @ self.profile_slope.T)
        value[:, :6] += (factors[:, 3:4] - 1.0) * self.body
        slope[:, :6] += more[:, :, None] * self.profile_slope
        return value, slope


@dataclass(frozen=True)
class OtherSections:
    """The same craft with other sections.

    Attributes
    ----------
    lift : their highest lift raised by :data:`LIFT_CHANGE`
    stalled : their force past stall raised by :data:`STALLED_CHANGE`
    """

    lift: PoweredCraft
    stalled: PoweredCraft


def other_sections(made: PoweredCraft) -> OtherSections:
    """A craft with the sections changed that a table of loads asks for."""
    lift = made.model.rescaled(made.craft, lift_scale=1.0 + LIFT_CHANGE)
    stalled = made.model.rescaled(made.craft, normal_scale=1.0 + STALLED_CHANGE)
    return OtherSections(replace(made, model=lift), replace(made, model=stalled))


@np.errstate(invalid="ignore")  # loads are infinite beyond what a rotor's model holds
def load_table(curve: PowerCurve, point: PowerPoint, others: OtherSections) -> LoadTable:
    """Table around the trim of a point.

    Parameters
    ----------
    others : the same craft with other sections
    """
    assert point.trim is not None
    problem, trim = curve.problem, point.trim
    count = problem.unknowns
    steps = np.full(count, PULL / len(problem.craft.rotors))
    steps[: 1 + int(problem.leans)] = TURN
    states, pairs = _stencil(trim.unknown, steps)
    start = trim.loads.coupled.offset
    loads = _loads_at(problem, problem.craft, point.speed, curve.climb_angle, states, start)
    parts = _parts(loads)
    slope = (parts[1 : count + 1] - parts[count + 1 : 2 * count + 1]).T / (2.0 * steps)
    bend = np.zeros((parts.shape[1], count, count))
    for i in range(count):
        both = parts[1 + i] + parts[1 + count + i] - 2.0 * parts[0]
        bend[:, i, i] = both / steps[i] ** 2
    for k, (i, j) in enumerate(pairs, start=2 * count + 1):
        mixed = (parts[k] - parts[1 + i] - parts[1 + j] + parts[0]) / (steps[i] * steps[j])
        bend[:, i, j] = bend[:, j, i] = mixed
    profile = _profile(loads)
    raised, stalled = (
        _parts(_loads_at(problem, made, point.speed, curve.climb_angle, states[:1], start))
        for made in (others.lift, others.stalled)
    )
    body = np.concatenate([loads.body_force[0], loads.body_moment[0]])
    return LoadTable(
        problem=problem,
        speed=point.speed,
        climb_angle=curve.climb_angle,
        unknown=trim.unknown,
        value=parts[0],
        slope=slope,
        curve=bend,
        profile=profile[0],
        profile_slope=(profile[1 : count + 1] - profile[count + 1 : 2 * count + 1]).T / (2 * steps),
        body=body,
        lift=(raised[0] - parts[0]) / LIFT_CHANGE,
        stalled=(stalled[0] - parts[0]) / STALLED_CHANGE,
    )


def _stencil(unknown: Floats, steps: Floats) -> tuple[Floats, list[tuple[int, int]]]:
    """States around a trim: itself, one step up and down in each unknown, up in each pair."""
    shifts = np.diag(steps)
    pairs = [(i, j) for i in range(len(steps)) for j in range(i + 1, len(steps))]
    mixed = [shifts[i] + shifts[j] for i, j in pairs]
    rows = [np.zeros((1, len(steps))), shifts, -shifts]
    if mixed:
        rows.append(np.array(mixed))
    return unknown + np.concatenate(rows), pairs


def _loads_at(
    problem: TrimProblem,
    craft: PoweredCraft,
    speed: float,
    climb: float,
    states: Floats,
    start: Floats,
) -> FlightLoads:
    theta, lean, thrusts = problem.split(states)
    alpha = theta - climbing_turn(np.full(len(states), climb), lean)
    return flight_loads(craft, np.full(len(states), speed), alpha, thrusts, start)


def _parts(loads: FlightLoads) -> Floats:
    """Six loads, the shafts' powers, the stall margin, shape (states, parts)."""
    force, moment = loads.total
    margin = stall_margins(loads)[:, None]
    return np.concatenate([force, moment, loads.shaft_powers, margin], axis=1)


def _profile(loads: FlightLoads) -> Floats:
    """Loads of the sections' drag about the centre of gravity, shape (states, 6)."""
    force = loads.strips.profile.sum(axis=1)
    moment = loads.strips.profile_moment.sum(axis=1) - np.cross(loads.offset, force)
    return np.concatenate([force, moment], axis=1)


@dataclass(frozen=True)
class SampledPoint:
    """One speed over all samples; NaN where a sample found no trim. All shape (samples,).

    Attributes
    ----------
    power : electrical [W]
    stall_margin : [rad]
    margin : distance to the nearest limit of rotors and power [1]
    body_angle : [rad]
    thrust : of all rotors [N]
    wing_share : part of the weight that the air carries on the wings [1]
    """

    power: Floats
    stall_margin: Floats
    margin: Floats
    body_angle: Floats
    thrust: Floats
    wing_share: Floats


def sampled_point(table: LoadTable, factors: Floats) -> SampledPoint:
    """Trim every sample of the inputs on a table.

    Parameters
    ----------
    factors : shape (samples, inputs), see :func:`input_samples`
    """
    problem = table.problem
    weight = problem.weight * factors[:, 0]
    change = np.zeros((len(factors), problem.unknowns))
    converged = np.zeros(len(factors), dtype=bool)
    for _ in range(MOST_STEPS):
        value, slope = table.at(change, factors)
        found, turned = _balance(table, change, weight, value, slope)
        converged = np.max(np.abs(found), axis=1) < CONVERGED
        if converged.all():
            break
        try:
            step = -np.linalg.solve(turned, found[:, :, None])[:, :, 0]
        except np.linalg.LinAlgError:
            break
        size = np.maximum(np.max(np.abs(step), axis=1) / LONGEST, 1.0)
        change = change + step / size[:, None]
    value, _ = table.at(change, factors)
    return _measured(table, change, factors, value, converged)


def _balance(
    table: LoadTable, change: Floats, weight: Floats, value: Floats, slope: Floats
) -> tuple[Floats, Floats]:
    """Balances that are solved, over their scales, and their slopes with the unknowns."""
    problem, rows = table.problem, table.rows
    theta, lean, _ = problem.split(table.unknown + change)
    balance = value[:, :6].copy()
    turned = slope[:, :6].copy()
    balance[:, :3] += weight[:, None] * gravity_direction(theta, lean)
    h = 1e-6
    angles = [(theta + h, lean)] + ([(theta, lean + h)] if problem.leans else [])
    for column, (a, b) in enumerate(angles):
        rate = (gravity_direction(a, b) - gravity_direction(theta, lean)) / h
        turned[:, :3, column] += weight[:, None] * rate
    scales = problem.scales[rows]
    return balance[:, rows] / scales, turned[:, rows] / scales[:, None]


def _measured(
    table: LoadTable, change: Floats, factors: Floats, value: Floats, converged: NDArray[np.bool_]
) -> SampledPoint:
    craft = table.problem.craft
    shafts = value[:, 6:-1]
    shafts = np.where(shafts > 0.0, shafts * factors[:, 5:6], shafts)
    drive = craft.propulsion
    efficiency = drive.motor_efficiency * drive.controller_efficiency * factors[:, 4]
    power = electrical_power(
        drive, shafts, idle=craft.idle_power, efficiency=np.minimum(efficiency, 1.0),
        fixed_load=drive.fixed_load_W * factors[:, 6],
    )  # fmt: skip
    theta, lean, thrusts = table.problem.split(table.unknown + change)
    margins = [np.full(len(factors), np.inf)]
    for i, rotor in enumerate(craft.rotors):
        size = rotor.thrust_max_N or float(np.mean(thrusts)) or 1.0
        margins.append((thrusts[:, i] - rotor.thrust_min_N) / size)
        if drive.braking == "not allowed":
            margins.append(driven_margin(craft, shafts[:, i]))
        if rotor.thrust_max_N is not None:
            margins.append(1.0 - thrusts[:, i] / rotor.thrust_max_N)
        if rotor.power_max_W is not None:
            margins.append(1.0 - shafts[:, i] / rotor.power_max_W)
    if drive.power_max_W is not None:
        margins.append(1.0 - power / drive.power_max_W)
    found = SampledPoint(
        power=power,
        stall_margin=value[:, -1],
        margin=np.min(margins, axis=0),
        body_angle=theta,
        thrust=thrusts.sum(axis=1),
        wing_share=_wing_share(table, gravity_direction(theta, lean), thrusts, factors),
    )
    return SampledPoint(
        **{name: np.where(converged, own, np.nan) for name, own in vars(found).items()}
    )


def _wing_share(table: LoadTable, down: Floats, thrusts: Floats, factors: Floats) -> Floats:
    """What of the weight the thrusts and the body's drag leave to the wings, (samples,) [1]."""
    problem = table.problem
    others = thrusts @ problem.craft.axes + factors[:, 3:4] * table.body[:3]
    lifted = np.einsum("si,si->s", others, down)
    return np.asarray(1.0 + lifted / (problem.weight * factors[:, 0]))


@dataclass(frozen=True)
class SampledCurve:
    """Fields of :class:`SampledPoint` at every speed, (samples, speeds); NaN without a trim."""

    power: Floats
    stall_margin: Floats
    margin: Floats
    body_angle: Floats
    thrust: Floats
    wing_share: Floats


MEASURED = tuple(field.name for field in fields(SampledCurve))
"""What is known of a sampled trim."""


def sampled_curve(curve: PowerCurve, factors: Floats) -> SampledCurve:
    """Every sample's power curve of one fold setting, on tables made once for each speed."""
    others = other_sections(curve.problem.craft)
    empty = np.full(len(factors), np.nan)
    found = []
    for point in curve.points:
        if point.trim is None:
            found.append(SampledPoint(**dict.fromkeys(MEASURED, empty)))
        else:
            found.append(sampled_point(load_table(curve, point, others), factors))
    return SampledCurve(
        **{name: np.stack([getattr(p, name) for p in found], axis=1) for name in MEASURED}
    )
