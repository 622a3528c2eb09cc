"""``foldspan check``: masses and loadings, what commands lack, warnings, the drawing."""

import json
import math
from pathlib import Path
from typing import Any

import pytest
from core_craft import biplane, wing

from vlm.cli.main import main
from vlm.constants import GRAVITY
from vlm.description.loading import load_biplane
from vlm.description.models import Arrangement, Biplane, Tips
from vlm.lattice.cellule import Grid, build_cellule
from vlm.power.rotor import hover_state
from vlm.show.plots import three_views
from vlm.study.check.command_needs import command_answers
from vlm.study.check.dimensions import dimensions
from vlm.study.check.hover import Hover, hover_of
from vlm.study.check.study import craft_check

WINGS = """title = "Wings"
[upper]
span_m = 1.2
root_chord_m = 0.2
end_chord_m = 0.2
"""
TIPS = "[upper.tips]\nspan_m = 0.2\nend_chord_m = 0.2\n"
RUNS = {
    "lateral": ("--folds", "0"), "roll": (), "hinge": (), "power": (), "schedule": (),
    "mission": (), "design": (),
}  # fmt: skip


def test_surfaces_that_meet_are_reported_before_a_command_refuses_them(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """``check`` says what ``point`` refuses, and of a craft that can be solved nothing."""
    moved = ["--set", "fins.2.x_m=0.46", "--set", "fins.2.z_m=-0.16"]
    assert main(["check", "teasel", *moved]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert main(["point", "teasel", "--alpha", "4", *moved]) == 2
    refusal = " ".join(capsys.readouterr().err.split()).removeprefix("foldspan: ")
    assert "meets the fin" in refusal
    assert f"No command can solve it: {refusal}." in said
    assert "It can answer" not in said
    assert craft_check(load_biplane("teasel")).refused is None


def test_a_fin_is_reported_as_it_was_written() -> None:
    """Two plates of 0.2 m that rise by 20 degrees from the centreline, 0.12 to 0.09 m deep."""
    fins = dimensions(load_biplane("teasel", ["fins.1.dihedral_deg=20"]))["fins"]
    tailplane = fins["tailplane"]
    assert tailplane["dihedral_deg"] == pytest.approx(20.0)
    assert tailplane["span_m"] == pytest.approx(0.2)
    assert tailplane["area_m2"] == pytest.approx(2 * 0.2 * 0.105)
    rise = tailplane["end_m"][2] - tailplane["root_m"][2]
    assert rise == pytest.approx(0.2 * math.sin(math.radians(20.0)))


def test_clearance_is_told_at_the_limits_and_at_folds_that_have_a_name() -> None:
    """The tips come nearest to what they fold toward at a limit, which need be no round number."""
    changes = ["upper.tips.fold_min_deg=-83", "upper.tips.fold_max_deg=37"]
    craft = load_biplane("tideline", [*changes, "configurations.dash.fold_deg=-80"])
    rows = {row["fold_deg"]: row for row in dimensions(craft)["folds"]}
    assert {-83.0, -80.0, -75.0, 0.0, 30.0, 37.0} <= set(rows)
    assert min(rows) == -83.0
    assert max(rows) == 37.0
    # The tip of 0.36 m ends outboard of the lower wing's end and above it, by this much each.
    fold = math.radians(83.0)
    apart = 0.36 * math.hypot(math.cos(fold), 1.0 - math.sin(fold))
    assert rows[-83.0]["clearance_m"] == pytest.approx(apart, rel=5e-3)  # camber
    assert apart < rows[-75.0]["clearance_m"]
    free = [row["fold_deg"] for row in dimensions(biplane())["folds"]]
    assert (min(free), max(free)) == (-165.0, 165.0)  # no limit is stated


@pytest.mark.parametrize(("given", "meant"), [("upper", "lower"), ("lower", "upper")])
def test_masses_of_the_other_wing_s_tips_are_told_their_right_name(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], given: str, meant: str
) -> None:
    lower = "[lower]\nspan_m = 1.2\nroot_chord_m = 0.2\nend_chord_m = 0.2\n"
    masses = "body_kg = 1.0\nbody_centre_m = [0, 0, 0]\nbody_inertia_kg_m2 = [1, 1, 1]\n"
    file = tmp_path / "craft.toml"
    file.write_text(
        WINGS + lower + TIPS.replace("upper", meant) + "[arrangement]\ngap_m = 0.4\n"
        f"[mass]\n{masses}{given}_tip = {{ mass_kg = 0.1, centre_m = [0, 0.1, 0] }}\n"
    )
    assert main(["check", str(file)]) == 2
    said = " ".join(capsys.readouterr().err.split())
    assert f"mass.{given}_tip is given, but the {given} wing has no tips" in said
    assert said.endswith(f"did you mean mass.{meant}_tip?")


def test_a_tip_longer_than_the_wing_inside_it_is_reported_as_it_was_written() -> None:
    """Half a wing of 0.5 m and a tip of 0.7 m, 0.2 m deep."""
    upper = dimensions(biplane(tip=0.7))["wings"]["upper"]
    assert upper["tip_span_m"] == pytest.approx(0.7)
    assert upper["flat_span_m"] == pytest.approx(2.4)
    assert upper["tip_area_m2"] == pytest.approx(0.14)


def test_loadings_are_weight_over_area_at_every_fold() -> None:
    """Tideline's rectangles, by hand: 2.1 kg; the tips' shadow shrinks with the cosine."""
    check = craft_check(load_biplane("tideline"), [0.0, 60.0, -90.0])
    assert check.mass_kg == pytest.approx(1.86 + 2 * 0.075 + 2 * 0.045)
    assert check.wing_loading_N_m2 == pytest.approx(2.1 * GRAVITY / 0.408)
    for one in check.masses:
        shadow = 0.17 * (2 * 0.84 + 0.72 * math.cos(math.radians(one.fold_deg)))
        assert one.wing_loading_N_m2 == pytest.approx(2.1 * GRAVITY / shadow)
    assert check.hover is not None
    discs = 4 * math.pi * 0.12**2
    assert check.hover.disc_loading_N_m2 == pytest.approx(2.1 * GRAVITY / discs)


def test_the_centre_of_gravity_follows_the_tips() -> None:
    """Two tips of 0.075 kg whose centres turn about the hinge at 0.17 m, by hand."""
    flat, up = craft_check(load_biplane("tideline"), [0.0, 90.0]).masses
    assert up.centre_m[2] - flat.centre_m[2] == pytest.approx(2 * 0.075 * 0.17 / 2.1)
    assert up.inertia_kg_m2[0] < flat.inertia_kg_m2[0]


def test_hover_thrust_obeys_both_limits() -> None:
    craft = load_biplane("tideline")
    hover = hover_at(craft)
    # Upper and lower rotors stand 0.36 m apart: what the upper ones carry balances pitch.
    upper = 0.5 * (0.36 + craft_check(craft, [0.0]).masses[0].centre_m[2]) / 0.36
    assert upper > 0.25
    assert upper * hover.thrust_N < 9.0  # the power binds before the thrust does
    state = hover_state(craft.rotors[0], upper * hover.thrust_N, 1.225)
    assert float(state.power) == pytest.approx(130.0)
    assert hover.limit == "power of rotor upper starboard"
    weak = hover_at(craft.overridden([f"rotors.{i}.thrust_max_N=5" for i in range(4)]))
    assert weak.thrust_N == pytest.approx(5.0 / upper)
    assert (weak.possible, weak.limit) == (False, "highest thrust of rotor upper starboard")


def hover_at(craft: Biplane) -> Hover:
    found = hover_of(craft, build_cellule(craft, Grid(rows=2, strips=8)))
    assert found is not None
    return found


def test_hover_obeys_the_electrical_limit_of_the_craft() -> None:
    """Four shafts over the efficiencies and the fixed load, by hand."""
    craft = load_biplane("tideline", ["propulsion.power_max_W=200"])
    hover, centre = hover_at(craft), craft_check(craft, [0.0]).masses[0].centre_m
    assert hover.thrust_N is not None
    assert (hover.limit, hover.possible) == ("electrical power", False)
    upper = 0.5 * (0.36 + centre[2]) / 0.36
    shafts = [
        float(hover_state(craft.rotors[0], share * hover.thrust_N, 1.225).power)
        for share in (upper, 0.5 - upper)
    ]
    assert 2.0 * sum(shafts) / (0.80 * 0.95) + 8.0 == pytest.approx(200.0)


@pytest.mark.parametrize(
    ("body_kg", "possible"), [(2.7, True), (2.8, None), (2.9, None), (3.0, False)]
)
def test_hover_is_not_known_where_thrust_is_hardly_more_or_less_than_the_weight(
    body_kg: float, possible: bool | None
) -> None:
    """The rotors carry 3.1 kg; what their wind does to the wings is left out."""
    hover = hover_at(load_biplane("tideline", [f"mass.body_kg={body_kg}"]))
    assert hover.possible is possible


def test_hover_without_any_limit_is_not_known() -> None:
    craft = load_biplane("tideline")
    free = [one.model_copy(update={"thrust_max_N": None, "power_max_W": None})
            for one in craft.rotors]  # fmt: skip
    hover = hover_at(craft.model_copy(update={"rotors": tuple(free)}))
    assert (hover.thrust_N, hover.limit, hover.possible) == (None, None, None)


def test_a_rotor_that_would_have_to_push_ends_a_hover() -> None:
    """The centre of gravity above the upper rotors: the lower ones push, 0.8 N at most each."""
    craft = load_biplane("tideline", ["mass.body_centre_m=[0.0535, 0.0, 0.3]"])
    height = craft_check(craft, [0.0]).masses[0].centre_m[2]
    hover = hover_at(craft)
    lower = 0.5 * -height / 0.36
    assert hover.thrust_N == pytest.approx(-0.8 / lower)
    assert hover.limit == "lowest thrust of rotor lower starboard"


@pytest.mark.parametrize(
    "change",
    ["propulsion.power_max_W=300", "propulsion.power_max_W=450", "mass.body_kg=2.6",
     "mass.body_kg=3.1", "mass.body_centre_m=[0.0535, 0.0, -0.05]",
     "mass.body_centre_m=[0.0535, 0.0, -0.12]"],
)  # fmt: skip
def test_check_says_of_hover_what_power_says(change: str, capsys) -> None:
    craft = load_biplane("tideline", [change])
    words = ["--airspeeds", "0,2", "--no-intervals", "--rows", "2", "--strips", "8", "--json"]
    words += ["--set", change]
    assert main(["power", "tideline", *words]) == 0
    power = json.loads(capsys.readouterr().out)
    limit = power["configurations"]["open"]["limit"][0]
    hover = hover_at(craft)
    assert hover.possible is (limit == "")
    if limit:
        assert hover.limit is not None
        assert hover.limit.split(" of rotor")[0] in limit


@pytest.mark.parametrize("text", [WINGS, WINGS + TIPS], ids=["wings", "tips"])
@pytest.mark.parametrize("command", RUNS)
def test_a_command_said_to_lack_a_block_is_refused(
    text: str, command: str, tmp_path: Path, capsys
) -> None:
    path = tmp_path / "wings.toml"
    path.write_text(text)
    answers = {one.command: one.lacks for one in command_answers(load_biplane(str(path)))}
    assert answers[command]
    assert main([command, str(path), *RUNS[command]]) == 2
    capsys.readouterr()


@pytest.mark.parametrize("taken", ["mass", "actuator", "rotors", "propulsion"])
def test_the_block_that_is_named_is_the_one_that_is_missing(taken: str) -> None:
    craft = load_biplane("tideline")
    whole = {one.command: one.lacks for one in command_answers(craft)}
    assert not whole["schedule"]
    assert not whole["hinge"]
    empty = () if taken == "rotors" else None
    less = craft.model_copy(update={taken: empty})
    lacks = {one.command: one.lacks for one in command_answers(less)}
    head = "[[rotors]]" if taken == "rotors" else f"[{taken}]"
    expected = {
        "mass": {"lateral", "roll", "hinge", "power", "schedule", "mission", "motion", "export"},
        "actuator": {
            "hinge",
            "schedule",
            "mission",
            "motion",
            "export",
        },  # its schedule asks for a folding rate
        "rotors": {"power", "schedule", "mission"},
        "propulsion": {"power", "schedule", "mission"},
    }[taken]
    assert {name for name, blocks in lacks.items() if head in blocks} == expected


@pytest.mark.parametrize(
    ("changes", "code"),
    [
        ([f"rotors.{i}.thrust_max_N=4" for i in range(4)], "no hover"),
        ([f"rotors.{i}.thrust_max_N=6" for i in range(4)], "hover reserve"),
        (["mass.body_inertia_kg_m2=[3.6, 2.8, 5.4]"], "inertia beyond size: x"),
        (["mass.body_centre_m=[53.5, 0, -190]"], "balance outside: x"),
        (["upper.span_m=840", "lower.span_m=840"], "usual: wing.span_m"),
    ],
)
def test_what_is_hard_to_believe_is_a_warning(changes: list[str], code: str, capsys) -> None:
    words = [word for change in changes for word in ("--set", change)]
    assert main(["check", "tideline", "--json", *words]) == 0
    found = json.loads(capsys.readouterr().out)
    assert code in [one["code"] for one in found["findings"]]
    assert main(["check", "tideline", "--strict", *words]) == 3
    assert "\nWarnings (" in capsys.readouterr().out
    assert main(["check", "tideline", "--strict"]) == 0
    assert "No warnings." in " ".join(capsys.readouterr().out.split())


def test_a_polar_for_other_reynolds_numbers_is_a_warning(tmp_path: Path) -> None:
    rows = [f"{a},{0.1 * a},0.02,{re}" for re in (1e6, 2e6) for a in (-8, 0, 8)]
    (tmp_path / "polar.csv").write_text("\n".join(["alpha_deg,cl,cd,reynolds", *rows]))
    text = WINGS.replace("end_chord", 'section = "foil"\nend_chord')
    text += '[sections.foil]\nform = "table"\ntable = "polar.csv"\n'
    text += "[mass]\nbody_kg = 1\nbody_centre_m = [0.05, 0, 0]\n"
    text += "body_inertia_kg_m2 = [0.05, 0.01, 0.05]\n"
    (tmp_path / "craft.toml").write_text(text)
    (found,) = craft_check(load_biplane(str(tmp_path / "craft.toml"))).findings
    # V of lift coefficient 1 at 1 kg on 0.24 m^2, chord 0.2 m, viscosity of the standard air.
    slow = math.sqrt(2 * GRAVITY / (1.225 * 0.24))
    assert found.value == pytest.approx(slow * 0.2 / 1.4607e-5, rel=1e-3)
    assert found.limit == 1e6


@pytest.mark.parametrize("ending", ["png", "svg", "pdf"])
def test_the_drawing(ending: str, tmp_path: Path) -> None:
    path = tmp_path / f"views.{ending}"
    assert main(["check", "turnstone", "--plot", str(path)]) == 0
    starts = {"png": b"\x89PNG", "svg": b"<?xml", "pdf": b"%PDF"}
    assert path.read_bytes().startswith(starts[ending])
    if ending == "svg":
        text = path.read_text()
        craft = load_biplane("turnstone")
        assert f"gap {craft.arrangement.gap_m:.3f}" in text
        assert f"stagger {craft.arrangement.stagger_m:.3f}" in text


@pytest.mark.parametrize("name", ["tideline", "winnow", "turnstone", "thistle", "plank"])
def test_the_answer_fits_80_columns(name: str, capsys) -> None:
    assert main(["check", name]) == 0
    assert max(len(line) for line in capsys.readouterr().out.splitlines()) <= 80


def test_lengths_of_the_drawing_hide_no_arrow_and_no_wing_s_tips(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """Tips on the lower wing alone have their length too, and a short stagger its arrow."""
    drawn: list[Any] = []
    monkeypatch.setattr(three_views, "save_figure", lambda figure, path: drawn.append(figure))
    tips = Tips(span_m=0.17, end_chord_m=0.2)
    craft = Biplane(
        title="Tips below", upper=wing(), lower=wing(tips=tips),
        arrangement=Arrangement(gap_m=0.3, stagger_m=0.04),
    )  # fmt: skip
    three_views.save_three_views(craft, craft_check(craft), tmp_path / "a.png")
    [figure] = drawn
    figure.canvas.draw()
    words = {text.get_text(): (axes, text) for axes in figure.axes for text in axes.texts}
    assert "tip 0.170" in words
    axes, text = words["stagger 0.040"]
    end = axes.transData.transform((0.04, 0.0))[0]
    assert text.get_window_extent().x0 > end
