"""Warnings about a power curve: each with its worst number, the limit and where it comes from."""

from collections.abc import Iterable, Iterator
from itertools import pairwise

import numpy as np

from vlm.constants import GRAVITY
from vlm.description.power import Rotor
from vlm.findings import Finding
from vlm.flight.trim.power_curve import PowerCurve, PowerPoint
from vlm.flight.trim.powered import FlightLoads, PoweredCraft
from vlm.flight.trim.trim_measures import BLOWN, driven_rotors
from vlm.power.momentum import wake_is_ordered
from vlm.power.rotor import figure_of_merit, hover_state
from vlm.sections.coupling import FADE_START
from vlm.sections.sectioned import SectionGroup

MERIT_RANGE = (0.35, 0.80)
REYNOLDS_FACTOR = 5.0
COARSE_STRIP = 1.0
SMALL_MOMENT = 1e-6
JUMP_DEG = 15.0
UNCALIBRATED, CALIBRATED = 30.0, 20.0
"""Worst errors of the power at a given thrust, blades as measured and turned to the advance ratio
without thrust (tests/power/test_measured_rotors.py) [%]."""
LOADED = 0.5


def power_warnings(curve: PowerCurve) -> list[Finding]:
    """Warnings about one fold setting's curve, one for each case that shows it."""
    craft = curve.problem.craft
    found = list(_craft_warnings(craft))
    for point in curve.points:
        found += _point_warnings(craft, point)
    found += _jumps(curve)
    return found


def flown_doubts(flown: Iterable[tuple[PoweredCraft, PowerPoint]]) -> list[Finding]:
    """Warnings about trims of one craft at any folds: of the craft once, then of every trim.

    Parameters
    ----------
    flown : the craft at a fold, and a trim there
    """
    pairs = list(flown)
    found = list(_craft_warnings(pairs[0][0])) if pairs else []
    for made, point in pairs:
        found += _point_warnings(made, point)
    return found


def _craft_warnings(craft: PoweredCraft) -> Iterator[Finding]:
    for group in craft.model.groups:
        if not group.name:
            strips = craft.model.strips
            patch = craft.model.lattice.patches[strips.patch[group.strips[0]]]
            fin = patch.part == "fin"
            yield Finding(
                "no_section",
                f"{'a fin' if fin else 'wings'} without a section: profile drag and stall are left"
                " out there; area",
                float(strips.area[group.strips].sum()), None, "m^2", "the geometry file",
                f"name a section in {'fins.section' if fin else 'upper.section, lower.section'}",
            )  # fmt: skip
    share = craft.masses.mass * GRAVITY / len(craft.rotors)
    for rotor in craft.rotors:
        state = hover_state(rotor, share, craft.air.density_kg_m3, craft.craft.folder)
        merit = float(figure_of_merit(state))
        low, high = MERIT_RANGE
        if not low <= merit <= high:
            yield Finding(
                "figure_of_merit", f"figure of merit of rotor {rotor.name} in hover", merit,
                low if merit < low else high, "1",
                "small rotors about 0.4 to 0.65, full scale 0.7 to 0.8; common practice",
                "check the rotor's solidity, pitch, drag, or table",
            )  # fmt: skip

        if rotor.form == "elements" and rotor.no_thrust_advance_ratio is None:
            yield Finding(
                "rotor_not_calibrated",
                f"rotor {rotor.name} by blade elements without a measured no_thrust_advance_ratio:"
                f" power at a given thrust errs by up to {CALIBRATED:g} % with one, and without",
                UNCALIBRATED, None, "%", "240 wind-tunnel points of four research propellers",
                "measure the advance ratio without thrust: one number for each rotor",
            )  # fmt: skip


def _point_warnings(craft: PoweredCraft, point: PowerPoint) -> Iterator[Finding]:
    if point.trim is None:
        return
    loads = point.trim.loads
    yield from _section_warnings(craft, loads)
    yield from _rotor_warnings(craft, point)
    left = float(np.abs(point.trim.left_over).max())
    if left > SMALL_MOMENT:
        yield Finding(
            "moment_left_over", "a moment that the rotors' arrangement cannot balance", left,
            None, "N m", "balance of moments", "place or turn the rotors so that they can",
        )  # fmt: skip
    farthest = float(loads.coupled.onset.from_wind[0, _moving(loads)].max(initial=0.0))
    if point.speed > 0.0 and farthest > FADE_START:
        yield Finding(
            "deep_stall", "strips so far from the wind that strip theory past stall stands in for"
            " the lattice", float(np.degrees(farthest)), float(np.degrees(FADE_START)), "deg",
            "the lattice's wake leaves smoothly", "take the power there as a first estimate",
        )  # fmt: skip


def in_deep_stall(point: PowerPoint) -> bool:
    """Whether strips of a trim stand so steeply in moving air that the lattice fades out there."""
    if point.trim is None:
        return False
    loads = point.trim.loads
    alpha = loads.coupled.state.alpha[0, _moving(loads)]
    return bool((np.abs(alpha) > FADE_START).any())


def _moving(loads: FlightLoads) -> np.ndarray:
    coupled = loads.coupled
    return np.asarray(coupled.state.speed[0] > BLOWN * coupled.onset.scale[0])


def _section_warnings(craft: PoweredCraft, loads: FlightLoads) -> Iterator[Finding]:
    state, onset = loads.coupled.state, loads.coupled.onset
    moving = state.speed[0] > LOADED * onset.scale[0]
    for group in craft.model.groups:
        own = group.strips[moving[group.strips]]
        if group.polar is None or len(own) == 0:
            continue
        numbers = state.reynolds[0, own]
        low, high = reynolds_range(group)
        worst = float(numbers.min()) if numbers.min() < low else float(numbers.max())
        if worst < low or worst > high:
            yield Finding(
                "reynolds_number", f"Reynolds number outside section {group.name}", worst,
                low if worst < low else high, "1",
                "its table" if group.polar.known_reynolds else "five times its own either way;"
                " common practice", "give the section data nearer to it",
            )  # fmt: skip
        low, high = group.polar.known_alpha
        angles = state.alpha[0, own]
        if group.section.form == "table" and (angles.min() < low or angles.max() > high):
            outer = angles.max() if angles.max() > high else angles.min()
            yield Finding(
                "beyond_table", f"angle of attack outside the table of section {group.name}:"
                " published relations past stall are used", float(np.degrees(outer)),
                float(np.degrees(high if outer > high else low)), "deg", "its table",
                "give the table a wider range",
            )  # fmt: skip


def reynolds_range(group: SectionGroup) -> tuple[float, float]:
    """Reynolds numbers a section stands for."""
    if group.polar is not None and group.polar.known_reynolds is not None:
        return group.polar.known_reynolds
    if group.section.form == "table":
        return 0.0, float("inf")
    own = group.section.value("reynolds")
    return own / REYNOLDS_FACTOR, own * REYNOLDS_FACTOR


REMEDIES = {
    "table": "give its table a wider range of advance ratios",
    "elements": "its blades do not reach it at any speed of rotation: raise thrust_min_N, or check"
    " blade_table and no_thrust_advance_ratio",
    "blades": "its blades do not brake so hard at any speed of rotation: raise thrust_min_N, or"
    " give the blades less pitch_m or more solidity",
}
"""What to change where a rotor cannot have its thrust, by its form."""


def beyond_rotor(rotor: Rotor, speed: float) -> Finding:
    """The warning that a rotor is beyond its data, or cannot have its thrust.

    Parameters
    ----------
    speed : airspeed of the trim [m/s]
    """
    what = "is outside its table" if rotor.form == "table" else "has a thrust that it cannot give"
    return Finding(
        "rotor_range", f"rotor {rotor.name} {what}; airspeed", speed, None, "m/s",
        f"the rotor's data, form {rotor.form}", REMEDIES[rotor.form],
    )  # fmt: skip


def _rotor_warnings(craft: PoweredCraft, point: PowerPoint) -> Iterator[Finding]:
    assert point.trim is not None
    loads = point.trim.loads
    for rotor, state in zip(craft.rotors, loads.rotors, strict=True):
        if not bool(state.in_range.all()):
            yield beyond_rotor(rotor, point.speed)
    fate = craft.propulsion.braking
    for name, power in driven_rotors(craft, point.trim).items():
        what = f"rotor {name} is driven by the air at {point.speed:.3g} m/s; that power is {fate}"
        remedy = "look at pitch trim and the rotors' pitch; state what braking does"
        yield Finding("rotor_driven", what, abs(power), None, "W", "propulsion.braking", remedy)
    for state in loads.rotors:
        flow = state.flow
        if not bool(wake_is_ordered(flow.hover, flow.axial, flow.edgewise).all()):
            yield Finding(
                "own_wake", "a rotor sinks into its own wake; wind along its axis from behind",
                -float(flow.axial[0]), None, "m/s", "momentum theory, which does not hold there",
                "descend faster, or with speed",
            )  # fmt: skip
    spans = craft.wind_points[1][: len(craft.model.controls)]
    widths = np.linalg.norm(spans, axis=1)
    if loads.wind is None:
        return
    for wetted, radius in zip(loads.wind.inside[0], loads.wind.radius[0], strict=True):
        inside = wetted[: len(widths)]
        on_edge = (inside > 0.02) & (inside < 0.98)
        ratio = widths / radius[: len(widths)]
        if np.any(on_edge) and float(ratio[on_edge].max()) > COARSE_STRIP:
            yield Finding(
                "slipstream_edge", "strips on the edge of a slipstream, wide against its radius",
                float(ratio[on_edge].max()), COARSE_STRIP, "1", "common practice",
                "take more strips (--strips)",
            )  # fmt: skip


def _jumps(curve: PowerCurve) -> list[Finding]:
    """Speeds between which the least power moves to another trim far away."""
    found = []
    for before, after in pairwise(curve.points):
        turn = abs(before.value("body_angle_deg") - after.value("body_angle_deg"))
        if turn > JUMP_DEG:
            what = (
                f"the trim of least power turns by much between {before.speed:.3g} and"
                f" {after.speed:.3g} m/s"
            )
            remedy = "cross this range with care; look at more speeds in it"
            found.append(Finding("jump", what, turn, JUMP_DEG, "deg", "stall", remedy))
    for point in curve.points:
        if point.trims > 1:
            what = (
                f"more than one trim at {point.speed:.3g} m/s, that of least power is given; trims"
            )
            remedy = "which one is flown depends on how the speed is reached"
            found.append(Finding("several_trims", what, point.trims, None, "1", "stall", remedy))
    return found
