"""Signs of stability that the rotors' forces across their axes turn, in every command alike.

A propeller in yaw acts like a fin of its blades' side area, half of which shows (H. S. Ribner, NACA
Report 820, 1945, from memory): summed here in closed form for blades of one chord. Static margin is
minus the slope of Cm with CL (Etkin, Dynamics of Flight, from memory). The craft are invented.
"""

import json
from collections.abc import Mapping

import numpy as np
import pytest
import xarray as xr

from vlm.description.folds import FoldAngles
from vlm.description.loading import load_biplane
from vlm.description.models import Biplane
from vlm.findings import Finding
from vlm.flight.motion.roll_authority import Air
from vlm.flight.plan.fold_loads import FoldLoads
from vlm.lattice.cellule import Grid
from vlm.loads.state import FlightState
from vlm.show.scenes.pictures import caption
from vlm.show.tables.point import point_table
from vlm.show.tables.sweep import sweep_table
from vlm.show.text.sweep_answer import dihedral_ranges
from vlm.study.compare.numbers import Entry
from vlm.study.compare.results import Comparison
from vlm.study.compare.study import ComparePlan, compare_study
from vlm.study.design.stability import _stability
from vlm.study.lateral.study import LateralPlan, lateral_study
from vlm.study.point.fold_map import fold_map
from vlm.study.point.point import PointReport, solve_point
from vlm.study.point.rotors_across import WORDS, turned_in, turned_signs
from vlm.study.point.session import Session, Setting
from vlm.study.sweep.dataset import sweep_dataset
from vlm.study.sweep.naming import printed_width
from vlm.study.sweep.plan import SweepPlan
from vlm.study.sweep.rotors_counted import rotor_findings
from vlm.study.sweep.running import run_plan

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


def swept(craft: Biplane, plan: SweepPlan) -> xr.Dataset:
    return sweep_dataset(craft, plan, run_plan(craft, plan)[0])


def told(dataset: xr.Dataset) -> dict[str, Finding]:
    found = [Finding(**one) for one in json.loads(dataset.attrs["findings"])]
    return {one.code: one for one in found if one.code.startswith("rotors_across")}


def test_a_sweep_says_at_which_folds_rotors_may_turn_a_sign() -> None:
    """With flat tips they do, with raised ones not: what ``point`` says of each, and the fin by
    hand."""
    craft, fine = load_biplane("tideline"), Grid(3, 10)
    plan = SweepPlan((0.0, 60.0), (4.0,), grid=fine, airspeed=SPEED, errors=True)
    dataset = swept(craft, plan)
    alone, counted = (dataset[name].values.ravel() for name in ("Cn_beta", "Cn_beta_with_rotors"))
    rotors, moment = by_hand(craft, point(craft, 4.0, fine))
    assert counted - alone == pytest.approx([rotors, rotors], rel=0.3)
    taken = moment / dataset["CL_alpha"].values.ravel()
    margins = dataset["static_margin_with_rotors"] - dataset["static_margin"]
    assert margins.values.ravel() == pytest.approx(-taken, rel=0.3)
    wide = printed_width(dataset, "Cn_beta_with_rotors") - printed_width(dataset, "Cn_beta")
    assert wide.ravel() == pytest.approx([-0.5 * rotors] * 2, rel=0.4)
    finding = told(dataset)["rotors_across: Cn_beta, folds"]
    assert finding.what.endswith("it is another, or not known, at fold 0 deg")
    for fold, is_told in ((0.0, True), (60.0, False)):
        state = FlightState(alpha=np.radians(4.0), airspeed=SPEED, density=DENSITY)
        report = solve_point(craft, FoldAngles.symmetric(fold), state, grid=fine)
        assert ("Cn_beta" in turned_in(report)) == is_told
    text = " ".join(sweep_table(dataset).split())
    assert "static margin are those of wings and fins alone" in text
    assert "fold 0 deg" in text
    assert dataset["Cn_beta_with_rotors"].attrs["long_name"].endswith("turn without thrust")
    bare = swept(craft.model_copy(update={"rotors": ()}), plan)
    assert not told(bare)
    assert "Cn_beta_with_rotors" not in bare
    assert "alone" not in sweep_table(bare)


def test_a_headline_calls_no_dihedral_effect_stable_that_rotors_may_turn() -> None:
    """Rotors half a metre lower are pushed away from the wind below: that rolls into it by the
    force at half a metre, as much as flat tips roll away."""
    plain = load_biplane("tideline")
    lowered = tuple(
        one.model_copy(update={"position_m": (*one.position_m[:2], one.position_m[2] - 0.5)})
        for one in plain.rotors
    )
    craft = plain.model_copy(update={"rotors": lowered})
    plan = SweepPlan((0.0, 30.0), (4.0,), grid=Grid(3, 10), airspeed=SPEED, errors=True)
    dataset = swept(craft, plan).isel(alpha=0, beta=0)
    frame = point(craft, 4.0).loads.reference
    down = float(frame.moment_point[2]) - np.mean([one.position_m[2] for one in lowered])
    force = fin_of_blades(craft) * SPEED / (0.5 * DENSITY * SPEED**2 * frame.area)
    added = dataset["Cl_beta_with_rotors"] - dataset["Cl_beta"]
    assert added.values == pytest.approx([force * down / frame.span] * 2, rel=0.3)
    assert np.all(dataset["Cl_beta"] < -printed_width(dataset, "Cl_beta"))
    assert dihedral_ranges(dataset).endswith("stable at 30°; sign not known at 0°.")
    bare = dataset.drop_vars([name for name in dataset if "_with_rotors" in str(name)])
    assert dihedral_ranges(bare).endswith("stable at 0° to 30°.")


def test_rotors_of_no_known_state_leave_every_sign_open() -> None:
    """Where what they add is not known, no sign is."""
    craft = load_biplane("tideline")
    plan = SweepPlan((30.0, 60.0), (4.0,), grid=Grid(3, 10), airspeed=SPEED, errors=True)
    dataset = swept(craft, plan)
    assert "sign not known" not in dihedral_ranges(dataset.isel(alpha=0, beta=0))
    for name in ("static_margin", "Cl_beta", "Cn_beta"):
        dataset[f"{name}_with_rotors"] = np.nan * dataset[f"{name}_with_rotors"]
    (finding,) = rotor_findings(dataset)
    assert "their tables end" in finding.what
    said = dihedral_ranges(dataset.isel(alpha=0, beta=0))
    assert said.endswith("sign not known at 30° to 60°.")
    values = {"static_margin": 0.1, "Cl_beta": -0.1, "Cn_beta": 0.1, "CL_alpha": 4.0,
              "Cm_alpha": -0.4}  # fmt: skip
    assert set(turned_signs(values, dict.fromkeys(values, 0.01), None)) == set(WORDS)


def test_the_explorer_and_its_pictures_mark_what_rotors_may_turn() -> None:
    craft = load_biplane("tideline")
    for rotors, is_marked in ((craft.rotors, True), ((), False)):
        session = Session(craft.model_copy(update={"rotors": rotors}), GRID)
        lines = caption(session.scene(Setting(airspeed_m_s=SPEED))).splitlines()
        (line,) = [one for one in lines if one.startswith("Cn_beta")]
        assert line.endswith("turns into the wind *") == is_marked
        assert ("* without its rotors" in lines) == is_marked


def test_the_map_of_a_report_holds_what_rotors_add() -> None:
    craft = load_biplane("tideline")
    rotors, _ = by_hand(craft, point(craft, 4.0))
    found = fold_map(Session(craft, GRID), (0.0, 30.0), (0.0, 4.0))
    value, wide = found.rotors["Cn_beta"][1]
    assert value == pytest.approx(rotors, rel=0.3)
    assert wide == pytest.approx(-0.5 * rotors, rel=0.3)
    assert (
        fold_map(Session(craft.model_copy(update={"rotors": ()}), GRID), (0.0,), (4.0,)).rotors
        == {}
    )
