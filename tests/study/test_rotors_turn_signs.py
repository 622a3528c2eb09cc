"""Signs of stability that the rotors' forces across their axes turn, in every command alike.

A propeller in yaw acts like a fin of its blades' side area, half of which shows (H. S. Ribner, NACA
Report 820, 1945, from memory): summed here in closed form for blades of one chord. Static margin is
minus the slope of Cm with CL (Etkin, Dynamics of Flight, from memory). The craft are invented.
"""

from collections.abc import Mapping

import numpy as np
import pytest

from vlm.description.folds import FoldAngles
from vlm.description.loading import load_biplane
from vlm.description.models import Biplane
from vlm.flight.motion.roll_authority import Air
from vlm.flight.plan.fold_loads import FoldLoads
from vlm.lattice.cellule import Grid
from vlm.loads.state import FlightState
from vlm.show.tables.point import point_table
from vlm.study.compare.numbers import Entry
from vlm.study.compare.results import Comparison
from vlm.study.compare.study import ComparePlan, compare_study
from vlm.study.design.stability import _stability
from vlm.study.lateral.study import LateralPlan, lateral_study
from vlm.study.point.point import PointReport, solve_point

GRID, SPEED, DENSITY, FLAT = Grid(2, 8), 13.0, 1.225, FoldAngles()


def fin_of_blades(craft: Biplane) -> float:
    """Force of all rotors across the stream over the speed across, blades without drag [N s/m].

    rho a / 4 times all chords times int V^2 / W dr from 0.15 R out, without thrust: the speed of
    the tips is 2 pi R V / P.
    """
    total = 0.0
    for rotor in craft.rotors:
        assert rotor.solidity is not None
        assert rotor.pitch_m is not None
        radius = rotor.radius_m
        ratio = 2.0 * np.pi * radius / rotor.pitch_m
        length = radius / ratio * (np.arcsinh(ratio) - np.arcsinh(0.15 * ratio))
        chords = rotor.solidity * np.pi * radius
        total += 0.25 * DENSITY * 5.7 * chords * SPEED * length
    return total


def point(craft: Biplane, alpha_deg: float, grid: Grid = GRID) -> PointReport:
    state = FlightState(alpha=np.radians(alpha_deg), airspeed=SPEED, density=DENSITY)
    return solve_point(craft, FLAT, state, grid=grid)


def by_hand(craft: Biplane, report: PointReport) -> tuple[float, float]:
    """Cn_beta and Cm_alpha of the rotors as a fin ahead [1 per rad]."""
    frame = report.loads.reference
    ahead = float(frame.moment_point[0]) - np.mean([one.position_m[0] for one in craft.rotors])
    force = fin_of_blades(craft) * SPEED / (0.5 * DENSITY * SPEED**2 * frame.area)
    return -force * ahead / frame.span, force * ahead / frame.chord


@pytest.mark.parametrize("name", ["tideline", "winnow"])
def test_flat_tips_are_no_weathercock(name: str) -> None:
    """Wings alone turn into the wind; with rotors ahead the craft turns away from it."""
    craft = load_biplane(name)
    plan = LateralPlan(Air(SPEED, DENSITY), (0.0,), shares_deg=(0.0,), grid=GRID)
    study = lateral_study(craft, plan)
    level = study.folds[0].level
    assert level is not None
    assert level.body is not None
    assert level.alpha_deg is not None
    report = point(craft, level.alpha_deg)
    alone = report.derivatives["body"]["Cn_beta"]
    rotors, _ = by_hand(craft, report)
    assert alone > report.half_widths["Cn_beta"]
    assert alone + rotors < 0.0
    assert level.weathercock == "unstable"
    # Drag of the blades and thrust add to the fin; the wings' sections change little.
    assert abs(level.body["Cn_beta"] - alone - rotors) < 0.5 * abs(rotors)
    assert level.half_width("Cn_beta") > 0.45 * abs(rotors)
    shares = study.shares[0]
    assert shares.total == pytest.approx(level.body["Cl_beta"], abs=1e-9)
    assert shares.rotors is not None
    assert shares.rotors > 0.0


def test_a_point_says_which_signs_are_without_rotors() -> None:
    craft = load_biplane("tideline")
    report = point(craft, 4.7)
    codes = [one.code for one in report.findings if one.code.startswith("rotors_across")]
    assert codes == ["rotors_across: Cn_beta"]
    finding = next(one for one in report.findings if one.code == codes[0])
    rotors, _ = by_hand(craft, report)
    assert finding.value is not None
    assert finding.value < 0.0
    change = finding.value - report.derivatives["body"]["Cn_beta"]
    assert change == pytest.approx(rotors, rel=0.3)
    text = point_table("a", report)
    assert "turns into the wind without its rotors" in text
    assert "roll is damped\n" in text
    bare = craft.model_copy(update={"rotors": ()})
    assert not [one for one in point(bare, 4.7).findings if one.code.startswith("rotors_across")]


def with_margin(craft: Biplane, margin: float) -> Biplane:
    """The craft with its moment point where wings and fins alone have a static margin."""
    report = point(craft, 4.0, Grid())
    frame = report.loads.reference
    place = list(map(float, frame.moment_point))
    place[0] += (report.static_margin - margin) * frame.chord
    moved = craft.reference.model_copy(update={"moment_point_m": tuple(place)})
    return craft.model_copy(update={"reference": moved})


def test_a_margin_that_rotors_eat_is_not_called_stable() -> None:
    """Of +0.006 chords rotors ahead take about 0.008 ± 0.004."""
    craft = with_margin(load_biplane("tideline"), 0.006)
    report = point(craft, 4.0, Grid())
    _, moment = by_hand(craft, report)
    body = report.derivatives["body"]
    taken = moment / body["CL_alpha"]
    assert report.static_margin == pytest.approx(0.006, abs=5e-4)
    assert report.static_margin > report.half_widths["static_margin"]
    assert abs(report.static_margin - taken) < 0.5 * taken
    text = " ".join(point_table("a", report).split())
    assert "Statically stable without its rotors: static margin" in text
    finding = next(one for one in report.findings if one.code == "rotors_across: static_margin")
    assert finding.what.endswith("sign not known")
    assert finding.value == pytest.approx(report.static_margin - taken, abs=0.3 * taken)


def compared(crafts: Mapping[str, Biplane]) -> Comparison:
    entries = [Entry(name, craft, FLAT) for name, craft in crafts.items()]
    return compare_study(entries, ComparePlan(4.0, Air(SPEED, DENSITY), GRID, power=False))


def test_compare_holds_the_rotors_in_the_static_margin() -> None:
    craft = load_biplane("tideline")
    report = point(craft, 4.0)
    yawing, moment = by_hand(craft, report)
    bare = craft.model_copy(update={"rotors": (), "propulsion": None, "schedule": None})
    found = compared({"bare": bare, "whole": craft})
    margin = next(one for one in found.numbers if one.key == "static_margin")
    apart = margin.differences[1]
    assert apart.value is not None
    taken = moment / report.derivatives["body"]["CL_alpha"]
    assert apart.value == pytest.approx(-taken, rel=0.3)
    assert margin.values[1].half_width is not None
    assert margin.values[1].half_width > 0.45 * taken
    weathercock = next(one for one in found.numbers if one.key == "Cn_beta")
    assert weathercock.differences[1].value == pytest.approx(yawing, rel=0.3)
    assert [one.sign for one in weathercock.values] == [1, -1]


def test_a_design_is_judged_with_its_rotors() -> None:
    """Cn_beta and static margin of the warning, with rotors less without."""
    craft = load_biplane("teasel")
    rotors, moment = by_hand(craft, report := point(craft, 4.0))
    bare = craft.model_copy(update={"rotors": ()})
    whole, alone = (_stability(one, 0.0, 4.0) for one in (craft, bare))
    assert whole["Cn_beta"][0] - alone["Cn_beta"][0] == pytest.approx(rotors, rel=0.3)
    taken = moment / report.derivatives["body"]["CL_alpha"]
    apart = whole["static_margin"][0] - alone["static_margin"][0]
    assert apart == pytest.approx(-taken, rel=0.3)
    assert whole["static_margin"][1] > alone["static_margin"][1] + 0.4 * taken


def test_a_schedule_reads_the_dihedral_effect_of_rotors_too() -> None:
    """Rotors 0.2 m higher are pushed away from the wind above the centre of gravity: Cl_beta falls
    by the force at 0.2 m."""
    plain = load_biplane("tideline")
    raised = tuple(
        one.model_copy(update={"position_m": (*one.position_m[:2], one.position_m[2] + 0.2)})
        for one in plain.rotors
    )
    high = plain.model_copy(update={"rotors": raised})
    frame = point(plain, 4.0).loads.reference
    force = fin_of_blades(plain) * SPEED / (0.5 * DENSITY * SPEED**2 * frame.area)
    low, up = (
        FoldLoads.of(one, grid=GRID).dihedral_effect(0.0, 4.0, SPEED) for one in (plain, high)
    )
    assert up - low == pytest.approx(-force * 0.2 / frame.span, rel=0.3)
