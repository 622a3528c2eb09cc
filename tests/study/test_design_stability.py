"""A best design that is less stable than the file's craft says so.

Sources: static margin is minus the rate of Cm with CL about the centre of gravity, and falls by
what this moves aft over the chord (Etkin, Dynamics of Flight, chapter 2, from memory); the rest is
the rule itself. The craft are invented.
"""

import numpy as np
import pytest

from vlm.description.folds import FoldAngles
from vlm.description.loading import load_biplane
from vlm.description.models import Biplane
from vlm.lattice.cellule import Grid
from vlm.loads.state import FlightState
from vlm.study.design.changes import checked_key
from vlm.study.design.evaluator import DesignPlan
from vlm.study.design.goals import GoalPlan
from vlm.study.design.report import design_findings
from vlm.study.design.stability import _is_lost, stability_lost
from vlm.study.design.study import design_study
from vlm.study.point.point import solve_point


def without_rotors() -> Biplane:
    """Teasel without its rotors, so that wings and fins are all."""
    return load_biplane("teasel").model_copy(update={"rotors": ()})


@pytest.mark.parametrize(
    ("before", "after", "lost"),
    [
        ((0.08, 0.01), (0.05, 0.01), False),  # less, but known to be stable
        ((0.08, 0.01), (0.005, 0.01), True),
        ((0.08, 0.01), (-0.02, 0.01), True),
        ((0.005, 0.01), (-0.02, 0.01), True),
        ((0.005, 0.01), (0.003, 0.01), False),  # not known before, nor now
        ((-0.02, 0.01), (-0.03, 0.01), False),  # within both ±
        ((-0.02, 0.01), (-0.05, 0.01), True),
        ((-0.05, 0.01), (-0.02, 0.01), False),
        ((0.08, float("nan")), (-0.02, float("nan")), False),
    ],
)
def test_what_counts_as_lost(before, after, lost) -> None:
    assert _is_lost(1, before, after) is lost
    turned = [(-value, width) for value, width in (before, after)]
    assert _is_lost(-1, *turned) is lost


def test_a_body_moved_aft_takes_its_share_of_the_margin() -> None:
    """2.1 kg of which the body is 1.86 kg: 0.02 m of it move the whole 0.0177 m, over a chord.

    Within a hundredth, as it is the normal force, not lift, that stands on the arm.
    """
    craft = without_rotors()
    assert craft.mass is not None
    before = craft.mass.body_centre_m[0]
    moved = craft.overridden({"mass.body_centre_m.0": before + 0.02})
    found = stability_lost(craft, moved, (0.0, 0.0), 4.0)
    (finding,) = (one for one in found if "in pitch" in one.what)
    assert finding.code == "stability_lost"
    point = solve_point(craft, FoldAngles(), FlightState(alpha=np.radians(4.0)))
    share = craft.mass.body_kg / craft.mass.total_kg
    by_hand = point.static_margin - 0.02 * share / point.loads.reference.chord
    assert finding.value == pytest.approx(by_hand, abs=1e-3)
    assert finding.value < 0.0
    assert stability_lost(craft, craft, (0.0, 0.0), 4.0) == ()
    assert stability_lost(moved, craft, (0.0, 0.0), 4.0) == ()


def test_a_search_that_cuts_the_tailplane_says_what_is_lost() -> None:
    """Less tailplane is less drag; two points 1 degree apart tell that Cm then grows with CL."""
    craft = without_rotors()
    goal = GoalPlan("induced drag", airspeed=14.0, fold_deg=5.0, grid=Grid(2, 6))
    plan = DesignPlan((checked_key(craft, "fins.1.span_m", 0.02, 0.05),), goal, starts=1, most=5)
    study = design_study(craft, plan)
    assert study.best is not None
    found = [one for one in design_findings(study) if one.code == "stability_lost"]
    (said,) = (one for one in found if "in pitch" in one.what)
    best = craft.overridden({"fins.1.span_m": study.best["fins.1.span_m"]})
    for one, sign in ((craft, -1.0), (best, 1.0)):
        points = [
            solve_point(one, FoldAngles.symmetric(5.0), FlightState(alpha=np.radians(alpha)),
                        errors=False).coefficients
            for alpha in (3.5, 4.5)
        ]  # fmt: skip
        slope = (points[1].Cm - points[0].Cm) / (points[1].CL - points[0].CL)
        assert np.sign(slope) == sign
    assert said.value == pytest.approx(-slope, abs=0.002)


def test_a_body_moved_ahead_is_lost_as_a_weathercock() -> None:
    """0.04 m^2 of side area 0.3 m farther ahead take 0.04 x 0.3 / (S b) off Cn_beta (statics)."""
    craft = without_rotors().overridden({"drag_areas.0.side_area_m2": 0.04})
    ahead = craft.overridden({"drag_areas.0.position_m": [-0.25, 0.0, -0.19]})
    found = stability_lost(craft, ahead, (0.0, 0.0), 4.0)
    (finding,) = (one for one in found if "weathercock" in one.what)
    point = solve_point(craft, FoldAngles(), FlightState(alpha=np.radians(4.0)))
    reference = point.loads.reference
    arm = float(reference.moment_point[0]) + 0.25
    by_hand = -0.04 * arm / (reference.area * reference.span)
    assert finding.value == pytest.approx(point.derivatives["body"]["Cn_beta"] + by_hand, abs=1e-4)


def test_craft_without_masses_and_wanted_instability_are_left_alone() -> None:
    plank = load_biplane("plank")
    assert stability_lost(plank, plank, (0.0, 0.0), 4.0) == ()
    tideline = load_biplane("tideline")
    codes = [one.what for one in stability_lost(tideline, tideline, (0.0, -40.0), 4.0)]
    assert any("dihedral" in what for what in codes)
    wanted = tideline.overridden({"schedule.dihedral_effect": "unstable"})
    codes = [one.what for one in stability_lost(wanted, wanted, (0.0, -40.0), 4.0)]
    assert not any("dihedral" in what for what in codes)
