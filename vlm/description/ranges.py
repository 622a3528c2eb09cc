"""What numbers a craft can have, and what numbers it usually has.

One table, read by every block of the file, by the tables it names and by the state of the air.
Beyond the possible a number is refused; beyond the usual it is a warning: it may be right, but is
more likely in another unit, in another column or a slip of the pen.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from math import hypot, inf, pi, sqrt
from typing import Any

from vlm.description.camber import camber_of
from vlm.description.dimensions import wing_dimensions
from vlm.description.models import Biplane
from vlm.description.names import cut
from vlm.description.rotor_table import RotorCurve, rotor_curve
from vlm.description.section_table import SectionCurve, section_curves
from vlm.description.writing import as_tables
from vlm.errors import InputRefused
from vlm.findings import Finding

PRACTICE = "common practice"
STILL_AIR = "no machine gives more power than it takes"


@dataclass(frozen=True)
class Range:
    """What a quantity can be, and what it usually is, for electric craft of 0.1 to 50 kg.

    Attributes
    ----------
    key : of the file, with * for any name or place; a name of our own for what follows from several
    unit : of all four numbers
    usual : lowest and highest usual value
    possible : lowest and highest possible value; what the block itself refuses stands there
    source : where the usual values come from
    why_not : where the possible values come from; empty without
    """

    key: str
    unit: str
    usual: tuple[float, float]
    possible: tuple[float, float] = (-inf, inf)
    source: str = PRACTICE
    why_not: str = ""


RANGES = {
    one.key: one
    for one in (
        # Geometry: coefficients hold at any size, so a length is never refused for its size.
        Range("wing.span_m", "m", (0.05, 20.0)),
        Range("wing.root_chord_m", "m", (0.01, 2.0)),
        Range("wing.end_chord_m", "m", (0.005, 2.0)),
        Range("wing.incidence_deg", "deg", (-15.0, 15.0)),
        Range("wing.washout_deg", "deg", (-15.0, 15.0)),
        Range("wing.dihedral_deg", "deg", (-30.0, 30.0)),
        Range("wing.tips.span_m", "m", (0.01, 5.0)),
        Range("wing.tips.end_chord_m", "m", (0.005, 2.0)),
        Range("arrangement.gap_m", "m", (0.01, 5.0)),
        Range("arrangement.stagger_m", "m", (-3.0, 3.0)),
        Range("reference area over wing area", "1", (0.3, 3.0)),
        Range("reference span over wing span", "1", (0.3, 3.0)),
        Range("reference chord over wing chord", "1", (0.3, 3.0)),
        Range("moment point's distance over wing span", "1", (0.0, 2.0)),
        Range("mean line, height", "chords", (-0.12, 0.12), (-0.5, 0.5),
              why_not="a mean line stays within half a chord"),
        Range("mean line, slope", "1", (-1.0, 1.0), (-3.0, 3.0),
              why_not="thin sections: the flow follows the mean line"),
        # Mass
        Range("mass, whole craft", "kg", (0.05, 100.0)),
        Range("mass, over wing area", "kg/m^2", (0.3, 50.0)),
        Range("mass, radius of gyration over span", "1", (0.01, 0.7)),
        # Sections
        Range("sections.*.zero_lift_deg", "deg", (-10.0, 5.0), (-90.0, 90.0)),
        Range("sections.*.lift_slope_per_rad", "1/rad", (4.0, 6.9)),
        Range("sections.*.cl_max", "1", (0.5, 2.2), (0.0, 6.0),
              why_not="the highest with blown flaps"),
        Range("sections.*.cl_min", "1", (-1.8, -0.2), (-6.0, 0.0),
              why_not="the highest with blown flaps"),
        Range("sections.*.cd_least", "1", (0.003, 0.06), (0.0, 2.5),
              why_not="a plate across the flow has 2.0 (Hoerner 1965, from memory)"),
        Range("sections.*.cd_rise", "1", (0.0, 0.1)),
        Range("sections.*.cl_at_least_drag", "1", (-0.5, 1.2), (-6.0, 6.0)),
        Range("sections.*.reynolds", "1", (1e4, 2e7), (1.0, 1e10)),
        Range("sections.*.cm_quarter_chord", "1", (-0.25, 0.1), (-2.0, 2.0)),
        Range("section table, least cd", "1", (0.003, 0.08), (0.0, 2.5),
              why_not="a plate across the flow has 2.0 (Hoerner 1965, from memory)"),
        Range("section table, cd within 6 deg", "1", (0.0, 0.2), (0.0, 2.5),
              why_not="a plate across the flow has 2.0 (Hoerner 1965, from memory)"),
        Range("section table, cd", "1", (0.0, 2.2), (0.0, 5.0),
              why_not="a plate across the flow has 2.0 (Hoerner 1965, from memory)"),
        Range("section table, cl", "1", (-2.2, 2.5), (-10.0, 10.0),
              why_not="far beyond the highest with blown flaps"),
        Range("section table, cm", "1", (-0.7, 0.7), (-5.0, 5.0)),
        Range("section table, step of cl", "1/deg", (-0.5, 0.5)),
        # Rotors and drives
        Range("fins.*.span_m", "m", (0.01, 5.0)),
        Range("fins.*.root_chord_m", "m", (0.01, 2.0)),
        Range("fins.*.end_chord_m", "m", (0.005, 2.0)),
        Range("fins.*.x_m", "m", (-3.0, 10.0)),
        Range("fins.*.incidence_deg", "deg", (-15.0, 15.0)),
        Range("rotors.*.radius_m", "m", (0.02, 0.7)),
        Range("rotors.*.solidity", "1", (0.02, 0.3)),
        Range("rotors.*.pitch_m", "m", (0.01, 1.5)),
        Range("rotors.*.blade_drag", "1", (0.005, 0.1), (0.0, 2.5)),
        Range("rotors.*.blade_lift_slope_per_rad", "1/rad", (4.0, 6.9), (0.0, 10.0)),
        Range("rotor table, thrust_coefficient", "1", (-0.3, 0.3), (-10.0, 10.0)),
        Range("rotor table, power_coefficient", "1", (-0.2, 0.3), (-10.0, 10.0)),
        Range("rotor table, propulsive efficiency", "1", (-inf, 0.88), (-inf, 1.0),
              why_not=STILL_AIR),
        Range("rotor table, figure of merit", "1", (0.25, 0.85), (0.0, 1.0),
              "common practice; 1 is the ideal of the momentum theory (Glauert 1935)",
              why_not="the ideal of the momentum theory (Glauert 1935)"),
        Range("propulsion.motor_efficiency", "1", (0.4, 0.95), (0.0, 1.0), why_not=STILL_AIR),
        Range("propulsion.controller_efficiency", "1", (0.7, 0.995), (0.0, 1.0),
              why_not=STILL_AIR),
        Range("propulsion.fixed_load_W", "W", (0.0, 500.0)),
        Range("propulsion.battery_usable", "1", (0.5, 1.0), (0.0, 1.0)),
        Range("battery energy over mass of the craft", "Wh/kg", (2.0, 250.0), (0.0, 2000.0),
              why_not="no cell that can be bought holds that much"),
        Range("drag areas over wing area", "1", (0.0, 0.3)),
        # The drive of the tips
        Range("actuator.worm_ratio", "1", (5.0, 500.0)),
        Range("actuator.bearing_efficiency", "1", (0.6, 1.0), (0.0, 1.0), why_not=STILL_AIR),
        Range("actuator.servo_stall_torque_N_m", "N m", (0.02, 100.0)),
        Range("actuator.servo_no_load_speed_deg_s", "deg/s", (30.0, 6000.0)),
        Range("actuator.servo_time_constant_s", "s", (0.0, 1.0)),
        Range("actuator.servo_voltage_V", "V", (3.0, 60.0)),
        Range("actuator.servo_stall_current_A", "A", (0.1, 100.0)),
        Range("actuator.backlash_deg", "deg", (0.0, 3.0)),
        Range("actuator.load_factor_limit", "1", (2.0, 12.0)),
        Range("actuator.design_roll_rate_deg_s", "deg/s", (0.0, 1000.0)),
        # What is flown
        Range("schedule.airspeed_max_m_s", "m/s", (5.0, 90.0)),
        Range("mission.*.airspeed_m_s", "m/s", (3.0, 90.0)),
        Range("mission.*.time_s", "s", (1.0, 90_000.0)),
        Range("mission.*.distance_m", "m", (10.0, 1e6)),
        Range("mission.*.height_m", "m", (1.0, 6000.0)),
        Range("mission.*.climb_rate_m_s", "m/s", (0.1, 30.0)),
        Range("mission.*.radius_m", "m", (3.0, 5000.0)),
        Range("mission.*.turns", "1", (0.05, 5000.0)),
        Range("mission.*.headwind_m_s", "m/s", (-30.0, 30.0)),
        # The state of the air
        Range("airspeed", "m/s", (2.0, 100.0), (1e-6, 1e4)),
        Range("density", "kg/m^3", (0.4, 1.6), (1e-6, 1e4),
              "U.S. Standard Atmosphere 1976 from 10 km up to sea level, cold air below"),
    )
}  # fmt: skip
"""What every number is held against, by key."""

NEAR_ZERO_DEG = 6.0


@dataclass(frozen=True)
class Placed:
    """A number, its key in the table, and where it stands."""

    key: str
    place: str
    value: float


def range_finding(key: str, value: float, place: str = "") -> Finding | None:
    """The warning about a number beyond what is usual; None within."""
    known = RANGES[key]
    low, high = known.usual
    if low <= value <= high:
        return None
    limit = low if value < low else high
    side = "below" if value < low else "above"
    return Finding(
        f"usual: {key}", f"{place or key} {side} what is usual", value, limit, known.unit,
        known.source, "check the number and its unit",
    )  # fmt: skip


def craft_range_findings(craft: Biplane) -> list[Finding]:
    """Warnings about all numbers of a craft, its tables among them."""
    found = [range_finding(one.key, one.value, one.place) for one in _placed(craft)]
    return [finding for finding in found if finding is not None]


def refuse_impossible(craft: Biplane) -> None:
    """Refuse a craft with a number that none can have.

    Raises
    ------
    InputRefused : file, key, value, what is possible and why
    """
    for one in _placed(craft):
        known = RANGES[one.key]
        low, high = known.possible
        if not low <= one.value <= high:
            why = f" ({known.why_not})" if known.why_not else ""
            unit = "" if known.unit == "1" else f" {known.unit}"
            limit = f"at least {low:g}" if one.value < low else f"at most {high:g}"
            raise InputRefused(
                f"{craft.source_name}: {one.place} = {one.value:.6g}{unit}; {limit}{unit} is"
                f" possible{why}"
            )


def _placed(craft: Biplane) -> Iterator[Placed]:
    yield from _keys(as_tables(craft), "", "")
    yield from _references(craft)
    yield from _mean_lines(craft)
    yield from _masses(craft)
    for name, section in craft.sections.items():
        if section.table is not None:
            for curve in section_curves(section.table, craft.folder):
                yield from _section(curve, f'sections.{cut(name)} ("{cut(section.table)}")')
    for index, rotor in enumerate(craft.rotors):
        if rotor.table is not None:
            measured = rotor_curve(rotor.table, craft.folder)
            yield from _rotor(measured, f'rotors.{index} ("{cut(rotor.table)}")')


def _keys(value: Any, key: str, place: str) -> Iterator[Placed]:
    """Numbers that stand in the file under keys of the table."""
    if isinstance(value, dict):
        for name, item in value.items():
            step = "wing" if key == "" and name in ("upper", "lower") else name
            if key == "sections":
                step = "*"
            joined = f"{key}.{step}" if key else step
            yield from _keys(item, joined, f"{place}.{cut(name)}" if place else cut(name))
    elif isinstance(value, list) and key in ("rotors", "mission", "fins"):
        for index, item in enumerate(value):
            yield from _keys(item, f"{key}.*", f"{place}.{index}")
    elif isinstance(value, int | float) and not isinstance(value, bool) and key in RANGES:
        yield Placed(key, place, float(value))


def _references(craft: Biplane) -> Iterator[Placed]:
    """What coefficients are divided by, over the same of the wings; defaults need no check."""
    given = craft.reference
    sizes = [wing_dimensions(wing) for wing in craft.wings.values()]
    area, span = sum(s.planform_area_m2 for s in sizes), max(s.flat_span_m for s in sizes)
    chord = area / sum(s.flat_span_m for s in sizes)
    own = {"area": (given.area_m2, area), "span": (given.span_m, span)}
    for name, (value, wings) in (own | {"chord": (given.chord_m, chord)}).items():
        if value is not None:
            key = f"reference {name} over wing {name}"
            yield Placed(key, f"reference.{name}_{'m2' if name == 'area' else 'm'}: {key}",
                         value / wings)  # fmt: skip
    if isinstance(given.moment_point_m, tuple):
        key = "moment point's distance over wing span"
        yield Placed(key, f"reference.moment_point_m: {key}", hypot(*given.moment_point_m) / span)


def _mean_lines(craft: Biplane) -> Iterator[Placed]:
    for name, wing in craft.wings.items():
        for place, part in ((name, wing), (f"{name}.tips", wing.tips)):
            if part is None or part.camber is None:
                continue
            line = camber_of(part.camber, craft.folder)
            where = f'{place}.camber ("{cut(part.camber)}")'
            if line.highest > 0.0:  # two parabolas, steepest at the end nearer to the crest
                steepest = 2.0 * line.highest / min(line.place, 1.0 - line.place)
                yield Placed("mean line, slope", f"{where}: slope", steepest)
            if not line.points:
                continue
            height = max((z for _, z in line.points), key=abs)
            slope = max(((b[1] - a[1]) / (b[0] - a[0]) for a, b in pairwise(line.points)), key=abs)
            yield Placed("mean line, height", f"{where}: height", height)
            yield Placed("mean line, slope", f"{where}: slope", slope)


def _masses(craft: Biplane) -> Iterator[Placed]:
    if craft.mass is None:
        return
    sizes = [wing_dimensions(wing) for wing in craft.wings.values()]
    area, span = sum(s.planform_area_m2 for s in sizes), max(s.flat_span_m for s in sizes)
    total = craft.mass.total_kg
    yield Placed("mass, whole craft", "mass of the whole craft", total)
    yield Placed("mass, over wing area", "mass over wing area", total / area)
    for axis, inertia in zip("xyz", craft.mass.body_inertia_kg_m2, strict=True):
        gyration = sqrt(inertia / craft.mass.body_kg) / span if craft.mass.body_kg > 0.0 else inf
        place = f"mass: radius of gyration about {axis} over span"
        yield Placed("mass, radius of gyration over span", place, gyration)
    energy = None if craft.propulsion is None else craft.propulsion.battery_energy_Wh
    if energy is not None:
        place = "propulsion.battery_energy_Wh over mass of the craft"
        yield Placed("battery energy over mass of the craft", place, energy / total)
    drag = sum(one.area_m2 for one in craft.all_drag_areas)
    yield Placed("drag areas over wing area", "drag areas over wing area", drag / area)


def _section(curve: SectionCurve, place: str) -> Iterator[Placed]:
    """Numbers of one curve: the worst of each column, and what attached flow would not do."""
    at = "" if curve.reynolds is None else f" at reynolds {curve.reynolds:g}"
    for name in ("cl", "cd", "cm"):
        worst = max(getattr(curve, name), key=abs)
        yield Placed(f"section table, {name}", f"{place}: {name}{at}", worst)
    near = [d for a, d in zip(curve.alpha_deg, curve.cd, strict=True) if abs(a) <= NEAR_ZERO_DEG]
    yield Placed("section table, least cd", f"{place}: least cd{at}", min(curve.cd))
    if near:
        within = f"{place}: cd within {NEAR_ZERO_DEG:g} deg{at}"
        yield Placed("section table, cd within 6 deg", within, max(near))
    steps = [
        (b[1] - a[1]) / (b[0] - a[0])
        for a, b in pairwise(zip(curve.alpha_deg, curve.cl, strict=True))
    ]
    yield Placed("section table, step of cl", f"{place}: step of cl{at}", max(steps, key=abs))
    if curve.reynolds is not None:
        yield Placed("sections.*.reynolds", f"{place}: reynolds", curve.reynolds)


def _rotor(curve: RotorCurve, place: str) -> Iterator[Placed]:
    """Numbers of a rotor's table; its efficiency in flight and its figure of merit at rest."""
    for name in ("thrust_coefficient", "power_coefficient"):
        worst = max(getattr(curve, name), key=abs)
        yield Placed(f"rotor table, {name}", f"{place}: {name}", worst)
    rows = zip(curve.advance_ratio, curve.thrust_coefficient, curve.power_coefficient, strict=True)
    best = max(
        (j * thrust / power if power > 0.0 else inf for j, thrust, power in rows if thrust > 0.0),
        default=0.0,
    )
    yield Placed(
        "rotor table, propulsive efficiency", f"{place}: highest propulsive efficiency", best
    )
    # T^1.5 / sqrt(2 rho A) over the power, with T = c rho n^2 D^4 and P = c rho n^3 D^5.
    merit = curve.thrust_coefficient[0] ** 1.5 * sqrt(2.0 / pi) / curve.power_coefficient[0]
    yield Placed("rotor table, figure of merit", f"{place}: figure of merit at rest", merit)
