"""Searches of the design: against closed forms, stopped and resumed, refused."""

import json
import re
from math import pi
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner
from power_craft import GLIDER
from reference.lifting_line import drag_excess, trapezoid
from thin_craft import thin

from vlm.cli.main import foldspan, main
from vlm.description.folds import FoldAngles
from vlm.description.loading import load_biplane, load_biplane_text
from vlm.description.mission import Leg
from vlm.flight.trim.power_book import direct_trim
from vlm.flight.trim.powered import powered_craft
from vlm.lattice.cellule import Grid
from vlm.study.design.changes import checked_key, designed
from vlm.study.design.evaluator import DesignPlan
from vlm.study.design.goals import GoalPlan, closed_fold, fixed_worth, worth
from vlm.study.design.report import design_document
from vlm.study.design.study import design_study

GRID = Grid(rows=2, strips=8)


def run(*words: str) -> tuple[int, str, str]:
    """The command in this process."""
    done = CliRunner().invoke(foldspan, ["design", *words])
    return done.exit_code, done.stdout, done.output


def test_the_best_span_of_a_parabolic_polar() -> None:
    """Chord, weight and airspeed given, D = q c b cd0 + W^2 / (q pi b^2 e) is least where
    b^3 = 2 W^2 / (q^2 pi e c cd0) (derived), P = D U. e is that of the lattice's far field, where
    the goal's drag is summed over strips and its power made by rotors; as it falls with span like
    b^-s, the 2 becomes 2 - s. Rotors of 20 m radius without blade drag turn all but a trace of the
    power into thrust, and with this incidence the body is level and the thrust carries no weight.
    """
    craft = load_biplane_text(GLIDER, "glider.toml", ["upper.incidence_deg=7.2"])
    speed, chord, weight = 10.0, 0.2, 2.0 * 9.80665
    plan = DesignPlan(
        (checked_key(craft, "upper.span_m", 1.5, 5.0),),
        GoalPlan("power", airspeed=speed, grid=Grid(2, 12)),
        starts=2,
    )
    study = design_study(craft, plan)
    pressure = 0.5 * 1.225 * speed**2
    form = GoalPlan("span efficiency", alpha_deg=0.0, grid=Grid(2, 20))
    e = [worth(craft.overridden({"upper.span_m": b}), form).value for b in (2.3, 2.8)]
    fall = -np.log(e[1] / e[0]) / np.log(2.8 / 2.3)
    mean = float(np.sqrt(e[0] * e[1]))
    best = ((2.0 - fall) * weight**2 / (pressure**2 * pi * mean * chord * 0.02)) ** (1.0 / 3.0)
    assert study.best is not None
    assert study.best_worth is not None
    assert study.best["upper.span_m"] == pytest.approx(best, rel=0.015)
    drag = pressure * chord * best * 0.02 + weight**2 / (pressure * pi * best**2 * mean)
    assert study.best_worth.value == pytest.approx(drag * speed, rel=0.01)
    # At the best span sensitivities vanish to first order.
    for row in design_document(study)["sensitivity"]:
        assert abs(row["goal_percent_per"]) < 0.06


def test_the_best_taper_is_glauerts() -> None:
    """The series' own least drag excess over taper at the wing's aspect ratio."""
    craft = load_biplane("plank")
    root, span = 0.2, 1.2
    plan = DesignPlan(
        (checked_key(craft, "upper.end_chord_m", 0.02, 0.2),),
        GoalPlan("span efficiency", grid=Grid(2, 16)),
        starts=2,
    )
    study = design_study(craft, plan)
    assert study.best is not None
    tapers = np.linspace(0.15, 0.9, 16)
    excess = [drag_excess(trapezoid(span / (root * (1 + t) / 2), t)) for t in tapers]
    best = float(tapers[int(np.argmin(excess))])
    assert study.best["upper.end_chord_m"] / root == pytest.approx(best, abs=0.1)


def test_wings_far_apart_drag_least_so_that_the_bound_is_reported() -> None:
    """Mutual drag falls with the gap (Munk 1921): the upper bound binds."""
    craft = load_biplane("tideline")
    plan = DesignPlan(
        (checked_key(craft, "arrangement.gap_m", 0.3, 0.6),),
        GoalPlan("span efficiency", grid=GRID),
        starts=1,
        trade_key="arrangement.gap_m",
        trade_points=4,
    )
    document = design_document(design_study(craft, plan))
    [key] = document["keys"]
    assert key["best"] == pytest.approx(0.6, abs=1e-6)
    assert key["bound"] == "upper"
    up, down = document["sensitivity"]
    assert up["reason"] == "at its bound"
    assert down["goal_percent"] < 0.0
    values = [point["value"] for point in document["trade"]["folding"]]
    assert values == sorted(values)


def test_longer_tips_lower_the_induced_drag_at_the_same_lift() -> None:
    """D = L^2 / (q pi b^2 e), from the span efficiency and the span (Prandtl's lifting line)."""
    craft = load_biplane("tideline")
    key = "upper.tips.span_m"
    speed, lift, pressure = 12.0, 20.0, 0.5 * 1.225 * 12.0**2
    plan = GoalPlan("induced drag", airspeed=speed, lift_N=lift, grid=GRID)
    drags = []
    for tip in (0.1, 0.3, 0.5):
        made = designed(craft, {key: tip})
        drag = worth(made, plan).value
        drags.append(drag)
        span = 0.84 + 2.0 * tip
        angles = np.linspace(0.0, 12.0, 49)
        forms = [GoalPlan("span efficiency", alpha_deg=float(a), grid=GRID) for a in angles]
        form = [worth(made, one).value for one in forms]
        by_span = lift**2 / (pressure * pi * span**2 * np.array(form))
        assert by_span.min() <= drag <= by_span.max()
    assert drags == sorted(drags, reverse=True)
    own = GoalPlan("induced drag", airspeed=speed, grid=GRID)
    assert craft.mass is not None
    weight = craft.mass.total_kg * 9.80665
    held = GoalPlan("induced drag", airspeed=speed, lift_N=weight, grid=GRID)
    assert worth(craft, own).value == pytest.approx(worth(craft, held).value, rel=1e-12)


@pytest.mark.parametrize("key", ["upper.tips.span_m=0.1:0.5", "upper.span_m=0.5:1"])
def test_the_span_efficiency_refuses_keys_that_change_the_span(key: str, capsys) -> None:  # type: ignore[no-untyped-def]
    assert main(["design", "tideline", "--key", key, "--goal", "span efficiency"]) == 2
    err = capsys.readouterr().err
    assert "it changes the span" in err
    assert "induced drag" in err


def test_a_key_that_keeps_the_span_is_searched_for_its_efficiency() -> None:
    hinge = ("--key", "upper.hinge_place_m=0.3:0.5", "--most", "5", "--starts", "1")
    small = ("--rows", "2", "--strips", "8")
    status, _, err = run("tideline", *hinge, "--goal", "span efficiency", *small)
    assert status == 0, err


def test_as_in_the_file_holds_the_files_fold_where_the_fold_is_searched() -> None:
    craft = load_biplane("tideline")
    goal = GoalPlan("power", airspeed=14.0, grid=GRID)
    plan = DesignPlan((checked_key(craft, "fold_deg", -80.0, 60.0),), goal, starts=1, most=5)
    study = design_study(craft, plan)
    assert study.present is not None
    assert study.present.folds_deg == (0.0, 0.0)
    made = powered_craft(craft, FoldAngles(), grid=GRID)
    assert study.present.value == pytest.approx(
        direct_trim(made, 14.0).value("electrical_power_W"), rel=1e-7
    )


def test_the_best_designs_file_leads_to_the_same_tables(tmp_path: Path) -> None:
    """Written into another folder, a relative path still names the same camber line."""
    (tmp_path / "lines").mkdir()
    points = [f"{x},{0.08 * x * (1 - x)}" for x in (0.0, 0.25, 0.5, 0.75, 1.0)]
    rows = "\n".join(points)
    (tmp_path / "lines" / "bow.csv").write_text(rows + "\n")
    craft = load_biplane("plank").overridden([])
    text = craft.to_toml()
    file = tmp_path / "own.toml"
    file.write_text(re.sub(r'camber = "[^"]*"', 'camber = "lines/bow.csv"', text))
    (tmp_path / "deep" / "down").mkdir(parents=True)
    out = tmp_path / "deep" / "down" / "best.toml"
    status, _, err = run(
        str(file), "--key", "upper.end_chord_m=0.1:0.2", "--goal", "span efficiency", "--most",
        "5",
        "--starts", "1", "--rows", "2", "--strips", "8", "-o", str(out),
    )  # fmt: skip
    assert status == 0, err
    assert "../../lines/bow.csv" in out.read_text()
    assert main(["check", str(out)]) == 0


def test_crossing_wings_are_kept_with_their_reason(tmp_path: Path) -> None:
    """At -90 degrees a tip longer than the gap would pass the lower wing."""
    status, out, _ = run(
        "tideline", "--key", "upper.tips.span_m=0.2:0.6", "--goal", "induced drag", "--airspeed",
        "12", "--fold", "-90", "--rows", "2", "--strips", "8", "--across", "upper.tips.span_m",
        "--points", "5", "--starts", "1", "--most", "8", "--json",
    )  # fmt: skip
    assert status == 0
    document = json.loads(out)
    assert document["keys"][0]["best"] <= 0.36 + 1e-3
    assert any("meets the lower wing" in row["reason"] for row in document["failures"])
    assert [point["value"] is None for point in document["trade"]["folding"]][-1]


def test_a_mission_takes_the_searched_fold(tmp_path: Path) -> None:
    """One held fold searched: near the best of a fine grid of the same goal."""
    craft = load_biplane("tideline", ["schedule.speeds=3"])
    legs = (Leg(kind="loiter", time_s=600.0, airspeed_m_s=13.0),)
    goal = GoalPlan("energy", legs=legs, grid=GRID)
    plan = DesignPlan((checked_key(craft, "fold_deg", -60.0, 60.0),), goal, starts=1, most=20)
    study = design_study(craft, plan)
    assert study.best is not None
    assert study.best_worth is not None
    fine = [worth(craft, goal.holding(float(f))).value for f in (0.0, 7.0, 14.0)]
    assert study.best_worth.value <= min(fine) * (1.0 + 2e-4)
    open_fixed = study.fixed["open"]
    assert open_fixed.value < study.best_worth.value
    assert open_fixed.mass_kg == pytest.approx(2.01)
    assert study.fixed["closed"].value > open_fixed.value
    own = study.best["fold_deg"]
    assert study.fixed["own"].folds_deg == pytest.approx((own, own), abs=0.01)


def test_what_follows_a_key() -> None:
    craft = load_biplane("tideline")
    grown = designed(craft, {"upper.tips.span_m": 0.54, "arrangement.gap_m": 0.45})
    assert craft.mass is not None
    assert grown.mass is not None
    assert grown.mass.upper_tip is not None
    assert grown.mass.upper_tip.mass_kg == pytest.approx(1.5 * 0.075)
    assert grown.mass.upper_tip.centre_m[1] == pytest.approx(1.5 * 0.17)
    # A plate's inertia about its chordwise axis: mass times span squared.
    assert grown.mass.upper_tip.inertia_kg_m2[0] == pytest.approx(1.5**3 * 0.00081, rel=0.02)
    assert grown.rotors[2].position_m == pytest.approx((-0.08, 0.27, -0.45))
    assert grown.rotors[0].position_m == craft.rotors[0].position_m
    assert grown.mass.body_centre_m[2] == pytest.approx(-0.19 * 0.45 / 0.36)
    moved = designed(craft, {"upper.hinge_place_m": 0.5})
    assert moved.upper.span_m == pytest.approx(1.0)
    assert moved.upper.tips is not None
    assert moved.upper.tips.span_m == pytest.approx(0.28)
    heavier = craft.overridden({"design.square_metre_of_wing_kg": 1.0})
    again = designed(heavier, {"upper.hinge_place_m": 0.5})
    assert again.mass is not None
    assert again.mass.body_kg == pytest.approx(1.86 + 0.16 * 0.17)


def test_the_power_goal_is_the_least_over_folds() -> None:
    craft = load_biplane("tideline")
    goal = GoalPlan("power", airspeed=14.0, grid=GRID)
    free = worth(craft, goal)
    for fold in (-60.0, 0.0, 10.0, 60.0):
        assert free.value <= worth(craft, goal.holding(fold)).value * 1.001
    assert fixed_worth(craft, goal, 0.0).value < worth(craft, goal.holding(0.0)).value
    assert closed_fold(craft) == -90.0


def test_a_fold_outside_the_constraints_has_a_reason() -> None:
    craft = load_biplane("tideline")
    goal = GoalPlan("power", airspeed=14.0, fold_deg=-85.0, grid=GRID)
    assert worth(craft, goal).reason == "room to roll"
    rolling = GoalPlan("rolling moment", airspeed=14.0, fold_deg=-85.0, grid=GRID)
    assert worth(craft, rolling).reason == "room to roll"
    assert worth(craft, rolling.holding(0.0)).value > 0.1


def test_a_goal_without_a_value_has_a_reason() -> None:
    """A flat wing at no angle of attack lifts nothing, and its span efficiency is 0 / 0."""
    plan = GoalPlan("span efficiency", alpha_deg=0.0, grid=GRID)
    found = worth(load_biplane("plank"), plan)
    assert np.isnan(found.value)
    assert found.reason == "the span efficiency has no value here"


def test_the_old_file_is_not_written_over(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "p.toml"
    text = load_biplane("plank").to_toml()
    file.write_text(text)
    words = ["design", str(file), "--key", "upper.end_chord_m=0.1:0.2", "--goal", "span efficiency"]
    assert main([*words, "-o", str(file)]) == 2
    assert "name another" in capsys.readouterr().err
    assert main([*words, "-o", str(tmp_path / "nowhere" / "p.toml")]) == 2
    assert "there is no folder" in capsys.readouterr().err
    assert file.read_text() == text


def test_a_wrong_key_in_the_file_is_reported_as_the_files(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text = load_biplane("plank").to_toml() + '[design.keys]\n"upper.spann_m" = [1.0, 2.0]\n'
    (tmp_path / "p.toml").write_text(text)
    assert main(["design", str(tmp_path / "p.toml"), "--goal", "span efficiency"]) == 2
    said = capsys.readouterr().err
    assert "p.toml: design.keys upper.spann_m" in said
    assert "did you mean span_m?" in said


def test_the_best_is_written_and_drawn(tmp_path: Path) -> None:
    craft = thin("tideline")
    tables = craft.to_toml() + (
        '\n[design]\ngoal = "power"\nairspeed_m_s = 14.0\n'
        '[design.keys]\n"fold_deg" = [0.0, 40.0]\n"upper.tips.span_m" = [0.3, 0.4]\n'
    )
    (tmp_path / "craft.toml").write_text(tables)
    status, out, said = run(
        str(tmp_path / "craft.toml"), "--rows", "2", "--strips", "8", "--starts", "1", "--most",
        "10", "-o", str(tmp_path / "best.toml"), "--plot", str(tmp_path / "trade.png"),
        "--across", "upper.tips.span_m", "--points", "3",
    )  # fmt: skip
    assert status == 0, said
    assert "flat, no mechanism" in out
    assert "not a flight clearance" in out
    best = load_biplane(tmp_path / "best.toml")
    text = (tmp_path / "best.toml").read_text()
    assert text.startswith("# ")
    assert "upper.tips.span_m = " in text.split("\n\n")[0]
    assert best.upper.tips is not None
    assert 0.3 <= (best.upper.tips.span_m or 0.0) <= 0.4
    assert 0.0 <= (best.configurations["best"].fold_deg or 0.0) <= 40.0
    assert (tmp_path / "trade.png").stat().st_size > 10_000
    assert not (tmp_path / ".best.toml.unfinished").exists()


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["tideline"], "nothing may change"),
        (["tideline", "--key", "gap=1:2"], "gap is not a known key"),
        (["tideline", "--key", "upper.tips.spann_m=0.1:0.2"], "did you mean span_m?"),
        (["tideline", "--key", "upper.tips.span_m=0.5:0.2"], "the lower bound first"),
        (["tideline", "--key", "upper.tips.span_m=0.5"], "write KEY=FROM:TO"),
        (["tideline", "--key", "upper.camber=0:1"], "not a number"),
        (["tideline", "--key", "lower.tips.span_m=0.1:0.2"], "does not give"),
        (["tideline", "--key", "lower.hinge_place_m=0.1:0.2"], "has no tips on a wing lower"),
        (["tideline", "--key", "fold_deg=-120:0"], "limits of the tips allow"),
        (["tideline", "--key", "fold_deg=-20:0", "--fold", "3"], "can't stand beside"),
        (["tideline", "--key", "fold_deg=-20:0", "--fold", "300"], "can't stand beside"),
        (["tideline", "--key", "arrangement.gap_m=0.3:0.4", "--fold", "150"], "fold_max_deg"),
        (["tideline", "--key", "arrangement.gap_m=0.3:0.4"], "[[mission]] is missing"),
        (["tideline", "--key", "arrangement.gap_m=0.3:0.4", "--goal", "power"], "an airspeed"),
        (["tideline", "--key", "arrangement.gap_m=0.3:0.4", "--goal", "speed"], "--goal"),
        (["tideline", "--key", "arrangement.gap_m=0.3:0.4", "--across", "gap"], "one of the keys"),
        (["tideline", "--key", "arrangement.gap_m=0.3:nan"], "the lower bound first"),
        (["tideline", "--key", "upper.hinge_place_m=0.3:0.5", "--key", "upper.span_m=1:2"],
         "which is given too"),
        (["tideline", "--key", "arrangement.gap_m=0.3:0.4", "--airspeed", "-1"], "positive"),
        (["plank", "--key", "upper.span_m=1:2", "--goal", "power", "--airspeed", "12"],
         "[mass], [[rotors]], [propulsion] are missing"),
    ],
)  # fmt: skip
def test_what_cannot_be_searched_is_refused(
    words: list[str], said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["design", *words]) == 2
    assert said in capsys.readouterr().err
