"""Warnings where the number is not to be had, in a point and in a sweep; none on sound craft.

What each is held against is worked out here by hand, or measured against a finer lattice.
"""

import json

import numpy as np
import pytest
from core_craft import SMALL, biplane, lattice_of, monoplane, wing
from wide_craft import wide_case

from vlm.cli.main import main
from vlm.description.folds import FoldAngles
from vlm.description.loading import load_biplane
from vlm.description.models import Arrangement, Biplane, Tips
from vlm.lattice.cellule import Grid
from vlm.lattice.lattice_warnings import FOLDED_BACK_DEG, LEG_SHARE
from vlm.loads.state import FlightState
from vlm.study.point.point import solve_point
from vlm.study.point.validity import (
    CONDITION_LIMIT,
    LESS_FLARE,
    REFINE,
    STRIP_ANGLE_DEG,
    WIDEST_SHARE,
    setting_findings,
    value_findings,
)
from vlm.study.sweep.cases import solve_cases
from vlm.study.sweep.plan import SweepPlan

SHIPPED = ("ellipse", "plank", "thistle", "tideline", "turnstone", "winnow")
WIDE = ["upper.tips.fold_max_deg=179.9"]


def codes(findings) -> list[str]:
    return [finding.code for finding in findings]


def point(craft: Biplane, fold: float = 0.0, alpha_deg: float = 4.0, **keys):
    state = FlightState(alpha=np.radians(alpha_deg))
    return solve_point(craft, FoldAngles.symmetric(fold), state, **keys)


@pytest.mark.parametrize("name", SHIPPED)
def test_shipped_craft_raise_none_at_their_configurations(name: str) -> None:
    craft = load_biplane(name)
    settings = [one.folds for one in craft.configurations.values()]
    for folds in settings or [FoldAngles(0.0, 0.0)]:
        found = codes(solve_point(craft, folds, FlightState(alpha=np.radians(4.0))).findings)
        # That rotors turn the sign of Cn_beta is so of craft without a keel behind.
        assert set(found) <= {"rotors_across: Cn_beta"}


def test_few_random_craft_raise_one() -> None:
    """5006 has unmatched ends and no lift, 5011 an angle of 17 degrees at a tip folded by 98."""
    found = {}
    for seed in (5000, 5003, 5006, 5008, 5011):
        case = wide_case(seed)
        found[seed] = codes(solve_point(case.craft, case.folds, case.state).findings)
    assert {seed for seed, told in found.items() if told} == {5006, 5011}


@pytest.mark.parametrize("fold", [165.0, 179.0])
def test_a_tip_over_its_own_wing(fold: float) -> None:
    found = {f.code: f for f in point(load_biplane("tideline", WIDE), fold).findings}
    assert found["folded_back"].value == pytest.approx(fold)
    assert found["folded_back"].limit == FOLDED_BACK_DEG
    assert found["half_width: CL"].value > WIDEST_SHARE
    assert ("condition" in found) == (fold > 175.0)
    if fold > 175.0:
        assert found["condition"].value > CONDITION_LIMIT
        assert found["negative_drag"].value < 0.0


def test_the_limit_of_folding_back_is_where_the_hinge_moment_errs_by_five_percent() -> None:
    """Against a lattice of 12 x 60."""
    craft = load_biplane("tideline", WIDE)

    def error(fold: float) -> float:
        coarse, fine = (
            point(craft, fold, grid=grid, errors=False).hinges["upper_right"].coefficient
            for grid in (Grid(8, 20), Grid(12, 60))
        )
        return abs(coarse / fine - 1.0)

    assert error(150.0) < 0.03
    assert 0.04 < error(FOLDED_BACK_DEG) < 0.07


def test_strict_ends_a_point_and_a_sweep_with_status_3(tmp_path, capsys) -> None:
    back = ["tideline", "--set", WIDE[0]]
    assert main(["point", *back, "--alpha", "4", "--fold", "178", "--strict"]) == 3
    assert "folded back" in capsys.readouterr().err
    out = str(tmp_path / "back.nc")
    sweep = ["sweep", *back, "--alphas", "4", "--folds", "178", "--strict", "--out", out]
    assert main(sweep) == 3
    assert "negative induced drag" in capsys.readouterr().err


def test_a_sweep_finds_what_a_point_finds() -> None:
    craft = load_biplane("tideline", WIDE)
    plan = SweepPlan(folds_deg=(178.0,), alphas_deg=(4.0,), errors=True)
    (values,) = solve_cases(craft, plan, list(plan.cases()))
    assert set(codes(values["findings"])) == set(codes(point(craft, 178.0).findings))
    assert "aspect_ratio" not in values


def test_a_leg_is_followed_along_the_wake() -> None:
    """A lower wing ahead: its wake rises by 0.1 m over 0.5 m at 11.3 degrees, onto the upper."""
    craft = Biplane(
        title="A lower wing ahead",
        upper=wing(1.0),
        lower=wing(0.83),
        arrangement=Arrangement(gap_m=0.1, stagger_m=-0.6),
    )
    lattice = lattice_of(craft, grid=Grid(8, 20))

    def legs(alpha_deg: float, wake="stream") -> list[float]:
        state = FlightState(alpha=np.radians(alpha_deg))
        found = setting_findings(lattice, state, wake)
        return [f.value for f in found if f.code == "leg_near_control_point"]

    (near,) = legs(float(np.degrees(np.arctan2(0.1, 0.5))))
    assert near < LEG_SHARE
    assert legs(0.0) == legs(-11.3) == legs(11.3, "craft") == []
    # Any of several states counts.
    state = FlightState(alpha=np.radians([0.0, 11.3]))
    assert "leg_near_control_point" in codes(setting_findings(lattice, state, "stream"))


def test_the_limit_of_legs_is_where_a_wing_errs_by_one_percent() -> None:
    """A lower wing in the upper one's wake, 0.4 m aft; against 60 strips."""

    def error(gap: float) -> float:
        craft = Biplane(
            title="A wing in a wake",
            upper=wing(1.0, 0.15, camber="2412"),
            lower=wing(1.2, 0.15, camber="2412"),
            arrangement=Arrangement(gap_m=gap, stagger_m=0.4),
        )
        lift = [
            point(craft, 0.0, 0.0, grid=Grid(8, strips), errors=False).wings["lower"].CL
            for strips in (20, 60)
        ]
        return abs(lift[0] / lift[1] - 1.0)

    assert error(0.006) > 0.015  # 0.14 strips
    assert error(0.01) < 0.01  # 0.24 strips


def angle_of(lattice, **state) -> float:
    found = setting_findings(lattice, FlightState(**state), "stream")
    return next((f.value for f in found if f.code == "strip_angle"), 0.0)


def test_the_angle_of_a_strip() -> None:
    steep = lattice_of(monoplane(incidence_deg=20.0), grid=SMALL)
    assert angle_of(steep, alpha=np.radians(5.0)) == pytest.approx(25.0)
    assert angle_of(steep, alpha=np.radians(-5.0)) == 0.0  # 15 degrees
    # An upright tip meets sideslip as a flat one meets angle of attack.
    box = lattice_of(biplane(), 90.0, grid=SMALL)
    assert angle_of(box, beta=np.radians(18.0)) == pytest.approx(18.0)
    # Roll: the outermost strip at 2 y p_hat / b.
    flat = lattice_of(monoplane(), grid=SMALL)
    outermost = max(abs(p.trailing_stations()[:, 1]).max() for p in flat.patches)
    expected = float(np.degrees(np.arctan(2.0 * outermost * 0.4)))
    assert angle_of(flat, p_hat=0.4) == pytest.approx(expected)
    assert expected > STRIP_ANGLE_DEG


def test_half_widths_and_drag_of_given_values() -> None:
    sound = {"CL": 0.5, "CDi": 0.01, "CL_alpha": 4.0, "Cl_p": -0.5}
    widths = {"CL": 0.049, "CDi": 0.0009, "CL_alpha": 0.3, "Cl_p": 0.04}
    assert value_findings(sound, widths, 8.0, 0.0) == []
    assert value_findings(sound, {}, 8.0, 0.0) == []
    wide = {name: 2.0 * width for name, width in widths.items()}
    found = {f.code: f.value for f in value_findings(sound, wide, 8.0, 0.0)}
    for step in (0.0, 0.1):
        assert {f.remedy for f in value_findings(sound, wide, 8.0, step)} == {REFINE}
    assert {f.remedy for f in value_findings(sound, wide, 8.0, 0.11)} == {LESS_FLARE}
    assert found == {
        "half_width: CL": pytest.approx(0.196),
        "half_width: CDi": pytest.approx(0.18),
        "half_width: CL_alpha": pytest.approx(0.15),
        "half_width: Cl_p": pytest.approx(0.16),
    }
    assert codes(value_findings(sound | {"CDi": -0.001}, {}, 8.0, 0.0)) == ["negative_drag"]
    # A vanishing lift counts as one degree's: 4 pi / 180 = 0.0698.
    none = sound | {"CL": 0.0}
    assert value_findings(none, {"CL": 0.0069}, 8.0, 0.0) == []
    assert codes(value_findings(none, {"CL": 0.0071}, 8.0, 0.0)) == ["half_width: CL"]


def test_a_warning_stands_in_json(capsys) -> None:
    steep = ["point", "plank", "--set", "upper.incidence_deg=60", "--alpha", "4", "--json"]
    assert main(steep) == 0
    document = json.loads(capsys.readouterr().out)
    (found,) = [f for f in document["findings"] if f["code"] == "strip_angle"]
    assert found["value"] == pytest.approx(64.0)


def test_folds_on_tips_of_a_monoplane_are_held_too() -> None:
    tips = Tips(span_m=0.2, end_chord_m=0.2, fold_min_deg=-179.0, fold_max_deg=179.0)
    lattice = lattice_of(monoplane(tips=tips), -170.0, grid=SMALL)
    assert "folded_back" in codes(setting_findings(lattice, FlightState(), "craft"))
