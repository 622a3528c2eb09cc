"""``foldspan roll``, ``lateral`` and ``hinge``: documents, tables, pictures, refusals."""

import json
import re
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from scipy.signal import StateSpace
from thin_craft import naming, thin, thin_file

from vlm.cli.main import main
from vlm.constants import SEA_LEVEL_DENSITY
from vlm.description import FoldAngles, load_biplane
from vlm.description.models import Biplane
from vlm.errors import ComputationFailed
from vlm.flight.craft.folding_craft import FoldingCraft
from vlm.flight.craft.level import level_flight
from vlm.flight.motion.roll_authority import Air
from vlm.lattice.cellule import Grid
from vlm.show.text.answer import CAUTION
from vlm.study.hinge.results import HingePlan
from vlm.study.hinge.study import _flying as flying

pytestmark = pytest.mark.usefixtures("answers_kept")
SMALL = ["--rows", "3", "--strips", "10"]
SPEED = ["--airspeed", "13"]


def printed(capsys: pytest.CaptureFixture[str], *words: str) -> str:
    """Standard output of a command that must succeed."""
    capsys.readouterr()
    assert main(list(words)) == 0
    return capsys.readouterr().out


def refused(capsys: pytest.CaptureFixture[str], *words: str) -> str:
    """Standard error of a command that must be refused."""
    capsys.readouterr()
    assert main(list(words)) == 2
    captured = capsys.readouterr()
    assert captured.out == ""
    return captured.err


@pytest.fixture(scope="module")
def roll(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    craft = thin_file("tideline", tmp_path_factory.mktemp("roll"))
    return document("roll", craft, *SPEED, "--step", "60", "--airspeeds", "11:20:3")


@pytest.fixture(scope="module")
def lateral(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    craft = thin_file("tideline", tmp_path_factory.mktemp("lateral"))
    return document("lateral", craft, *SPEED, "--folds=-90:30:5", "--shares=-30:30:2")


@pytest.fixture(scope="module")
def hinge(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    craft = tmp_path_factory.mktemp("hinge") / "two_configurations.toml"
    craft.write_text(naming(load_biplane("tideline"), "open", "dash").to_toml(), encoding="utf-8")
    return document("hinge", str(craft), *SPEED, "--folds=-60:60:3", "--airspeeds", "13:26:2")


def without_rotors() -> Biplane:
    """A craft whose rotors are no matter of the test: their trims take half of a command's time."""
    left_out = {"rotors": (), "propulsion": None, "schedule": None, "log": None}
    return thin("tideline").model_copy(update=left_out)


def document(*words: str) -> dict[str, Any]:
    """JSON of a command on a small lattice, read as a script would."""
    import contextlib
    import io

    text = io.StringIO()
    with contextlib.redirect_stdout(text), contextlib.redirect_stderr(io.StringIO()):
        assert main([*words, *SMALL, "--json"]) == 0
    return json.loads(text.getvalue())  # type: ignore[no-any-return]


# --- roll ------------------------------------------------------------------------------------


def test_roll_document_holds_what_was_asked(roll: dict[str, Any]) -> None:
    assert roll["state"]["airspeed_m_s"] == 13.0
    folds = roll["map"]["left_deg"]
    assert folds == roll["map"]["right_deg"]
    assert {-90.0, 0.0, 60.0, 120.0} <= set(folds)
    moments = np.array(roll["map"]["rolling_moment_N_m"], dtype=float)
    assert moments.shape == (len(folds), len(folds))
    assert np.allclose(moments, -moments.T, atol=1e-9)
    strongest = roll["strongest"]
    assert strongest["rolling_moment_N_m"] == pytest.approx(np.nanmax(moments))
    assert 0.0 < strongest["rolling_moment_error_N_m"] < 0.1 * strongest["rolling_moment_N_m"]


def test_roll_holds_the_lift_at_every_airspeed(roll: dict[str, Any]) -> None:
    """What is reported in the table rows is reported at each airspeed asked for."""
    assert [row["airspeed_m_s"] for row in roll["airspeeds"]] == [11.0, 15.5, 20.0]
    for row in roll["airspeeds"]:
        assert row["strongest"]["rolling_moment_N_m"] > 0.0
    alphas = [row["alpha_deg"] for row in roll["airspeeds"]]
    assert alphas == sorted(alphas, reverse=True)


def test_rotors_win_in_hover_and_tips_in_cruise(roll: dict[str, Any]) -> None:
    rotors = roll["rotors"]
    [equal] = rotors["equal"]
    assert 1.0 < equal["airspeed_m_s"] < 9.0
    assert equal["above_m_s"] < equal["airspeed_m_s"] < equal["below_m_s"]
    assert rotors["airspeeds"][0]["airspeed_m_s"] == 0.0
    assert "the tips are the stronger" in rotors["words"]


def test_bank_histories_end_in_the_steady_roll(roll: dict[str, Any]) -> None:
    history = roll["bank_history"]
    held = history["histories"][0]
    assert held["commanded"] == held["ends"] == "to starboard"
    assert held["reverses"] is False
    assert held["roll_rate_deg_s"][-1] == pytest.approx(history["steady_roll_rate_deg_s"], rel=0.02)
    assert held["time_to_s"]["30"] < held["time_to_s"]["45"] < held["time_to_s"]["60"]
    without = history["histories"][1]
    assert without["time_to_s"]["30"] < held["time_to_s"]["30"]


def test_roll_table_and_picture(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    picture = tmp_path / "roll.svg"
    text = printed(
        capsys, "roll", thin_file("turnstone", tmp_path), "--airspeed", "14", "--step", "60",
        "--plot", str(picture), "--airspeeds", "12:18:2", "--to-left", "10",
        "--to-right", "-10", *SMALL,
    )  # fmt: skip
    assert "Strongest: " in text
    assert "to port 10.0, starboard -10.0 deg" in text
    assert CAUTION in text
    assert max(len(line) for line in text.splitlines()) <= 80
    assert "an estimate, not a flight clearance" in picture.read_text(encoding="utf-8")


def test_a_command_beyond_the_folds_limits_is_not_called_too_slow(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    """Tips that fold up only; the hinge's own limit is the source."""
    craft = thin("tideline").model_dump(exclude_none=True)
    craft["upper"]["tips"]["fold_min_deg"] = 0.0
    craft["configurations"] = {"open": {"fold_deg": 0.0}}
    del craft["actuator"], craft["rotors"], craft["schedule"], craft["log"]
    path = tmp_path / "up_only.toml"
    path.write_text(type(load_biplane("tideline")).model_validate(craft).to_toml())
    words = ["roll", str(path), *SPEED, "--step", "60", "--airspeeds", "13", *SMALL]
    found = printed(capsys, *words)
    assert found.count("beyond the fold's limits") == 2  # both apart, port down
    assert "too slow" not in found
    row = json.loads(printed(capsys, *words, "--json"))["airspeeds"][0]
    assert "passes upper.tips.fold_min_deg = 0" in row["not_flown"]["port_down_20_deg"]


def test_roll_without_a_drive_says_so(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    craft = without_rotors().model_copy(update={"actuator": None})
    path = tmp_path / "plain.toml"
    path.write_text(craft.to_toml(), encoding="utf-8")
    words = ["roll", str(path), *SPEED, "--step", "60", "--airspeeds", "13", *SMALL]
    said = printed(capsys, *words)
    assert "none: " in said
    assert "[actuator] is missing" in said


def test_a_reversed_command_is_said_at_its_row_and_in_the_findings(tmp_path: Path) -> None:
    """Port down and starboard up from flat tips is commanded to port; free in yaw the dihedral
    effect of the sideslip turns the craft to starboard."""
    path = tmp_path / "plain.toml"
    path.write_text(without_rotors().to_toml(), encoding="utf-8")
    found = document(
        "roll", str(path), *SPEED, "--step", "60", "--airspeeds", "13", "--to-left", "-20",
        "--to-right", "20",
    )  # fmt: skip
    rows = {row["name"]: row for row in found["bank_history"]["histories"]}
    held, free = rows["sideslip held at zero"], rows["free in yaw"]
    assert held["commanded"] == free["commanded"] == held["ends"] == "to port"
    assert free["ends"] == "to starboard"
    assert free["reverses"] is True
    assert 0.5 < free["reversed_at_s"] < 2.5
    assert free["first_the_wrong_way_deg"] == 0.0
    codes = [finding["code"] for finding in found["findings"]]
    assert "control_reversal" in codes


def test_a_departing_history_is_cut_off_and_said_so(tmp_path: Path) -> None:
    found = document(
        "roll", thin_file("tideline", tmp_path), *SPEED, "--base", "-45", "--step", "60",
        "--airspeeds", "13", "--to-left", "15", "--to-right", "-90",
    )  # fmt: skip
    free = found["bank_history"]["histories"][2]
    assert free["name"] == "free in yaw"
    assert free["departs"] is True
    assert free["cut_off_at_s"] == pytest.approx(free["time_s"][-1])
    assert free["cut_off_at_s"] < found["bank_history"]["duration_s"]
    assert free["sideslip_deg"][-1] == pytest.approx(np.sign(free["sideslip_deg"][-1]) * 60.0)
    assert "history_cut_off" in [finding["code"] for finding in found["findings"]]
    aided = found["bank_history"]["histories"][3]
    limits = found["bank_history"]["yaw_aid"]
    assert np.max(aided["yaw_moment_N_m"]) <= limits["highest_N_m"] + 1e-9
    assert np.min(aided["yaw_moment_N_m"]) >= limits["lowest_N_m"] - 1e-9


# --- lateral ---------------------------------------------------------------------------------


def test_lateral_tells_the_sign_in_words(lateral: dict[str, Any]) -> None:
    words = {row["fold_deg"]: row["level"]["dihedral_effect"] for row in lateral["folds"]}
    assert words[30.0] == "stable"
    assert words[-30.0] == "unstable"
    box = next(row for row in lateral["folds"] if row["fold_deg"] == -90.0)
    assert box["joined"] is True
    assert box["level"]["errors"]["Cl_beta"] > 0.0


def test_neutral_fold_lies_where_the_table_changes_its_sign(lateral: dict[str, Any]) -> None:
    rows = {row["fold_deg"]: row["level"]["body"]["Cl_beta"] for row in lateral["folds"]}
    roots = [root["fold_deg"] for root in lateral["neutral_folds"]]
    assert rows[-30.0] > 0.0 > rows[0.0]
    between = [root for root in lateral["neutral_folds"] if -30.0 < root["fold_deg"] < 0.0]
    assert len(between) == 1, roots
    low, high = between[0]["interval_deg"]
    assert low < between[0]["fold_deg"] < high
    assert between[0]["stable"] == "above"


def test_state_matrices_are_those_of_their_modes(lateral: dict[str, Any]) -> None:
    row = next(r for r in lateral["modes"] if r["fold_left_deg"] == 0.0)
    for block in ("longitudinal", "lateral"):
        matrix = np.array(row[block]["matrix"])
        system = StateSpace(matrix, np.eye(4), np.eye(4), np.zeros((4, 4)))
        roots = np.linalg.eigvals(system.A)
        for mode in row[block]["modes"]:
            root = complex(mode["real_1_s"], mode["imaginary_1_s"])
            assert np.min(np.abs(roots - root)) < 1e-9


def test_unlike_folds_come_with_the_coupled_matrix(lateral: dict[str, Any]) -> None:
    named = {row["name"]: row for row in lateral["unlike_folds"]}
    assert set(named) == {"bank_right", "bank_left"}
    right, left = (named[n]["coupled"]["modes"] for n in ("bank_right", "bank_left"))
    assert [m["real_1_s"] for m in right] == pytest.approx([m["real_1_s"] for m in left], rel=1e-6)
    # Roots of the printed matrix (numpy): what grows there is in the warning with its rate.
    roots = np.linalg.eigvals(np.array(named["bank_right"]["coupled"]["matrix"]))
    assert roots.real.max() > 0.1
    (said,) = [one["what"] for one in lateral["findings"] if one["code"] == "mode_grows"]
    told = re.search(
        r"coupled motion, fastest at configuration bank_\w+ and 13 m/s: ([\d.]+) ± ([\d.]+) 1/s"
        r" \(2 settings\)",
        said,
    )
    assert told is not None
    rate, half = (float(text) for text in told.groups())
    assert rate == pytest.approx(roots.real.max(), abs=0.06 * half)


def test_lateral_table_and_picture(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    picture = tmp_path / "lateral.svg"
    words = (
        "lateral", thin_file("winnow", tmp_path), "--airspeed", "17", "--folds=-40:40:3",
        "--airspeeds", "17", *SMALL,
    )  # fmt: skip
    text = printed(capsys, *words, "--plot", str(picture))
    assert "nstable dihedral effect at -40 deg" in text
    assert "tested" in text
    assert CAUTION in text
    assert max(len(line) for line in text.splitlines()) <= 80
    full = printed(capsys, *words, "--full")
    for said in ("roll subsidence", "must add", "inviscid wing", "full, with rotors", "set by"):
        assert said in full
    assert "lateral roots" in picture.read_text(encoding="utf-8")


def test_lateral_of_a_monoplane_without_tips(capsys: pytest.CaptureFixture[str]) -> None:
    words = [
        "--set", "mass.body_kg=1.5", "--set", "mass.body_centre_m=[0.045, 0, 0]",
        "--set", "mass.body_inertia_kg_m2=[0.03, 0.02, 0.04]",
    ]  # fmt: skip
    text = printed(capsys, "lateral", "plank", *words, *SMALL)
    assert "changes its sign" not in text


# --- hinge -----------------------------------------------------------------------------------


def test_hinge_parts_add_up(hinge: dict[str, Any]) -> None:
    rows = [row for row in hinge["moments"] if "reason" not in row]
    assert len(rows) >= 8
    for row in rows:
        for one in row["hinges"].values():
            parts = one["air_N_m"] + one["weight_N_m"] + one["pull_up_N_m"]
            assert parts == pytest.approx(one["steady_N_m"])
            assert abs(one["worst_N_m"]) >= abs(one["steady_N_m"])


def test_worm_is_reported_dry_and_greased(hinge: dict[str, Any]) -> None:
    worm = hinge["worm"]
    assert worm["dry"]["verdict"] == "locks"
    assert worm["greased"]["verdict"] == "uncertain"
    assert worm["greased"]["forward_efficiency"][0] > worm["dry"]["forward_efficiency"][0]
    assert "vibration" in worm["caution"]


def test_limits_dry_come_before_greased(hinge: dict[str, Any]) -> None:
    moved = hinge["limits"]["moved"]
    dry, greased = (moved[name]["airspeed_m_s"] or 1e9 for name in ("dry", "greased"))
    assert dry <= greased


def test_wing_loads_grow_with_the_load_factor(hinge: dict[str, Any]) -> None:
    flat = [row for row in hinge["wings"] if row["fold_deg"] == 0.0 and "reason" not in row]
    roots = [row["halves"][0]["root_bending_N_m"] for row in flat]
    assert len(roots) == 2
    reached = flat[1]["reached_load_factor"]
    assert reached == pytest.approx(3.5)
    assert flat[1]["airspeed_m_s"] > flat[0]["airspeed_m_s"]  # where it was asked, wings stall
    assert roots[1] / roots[0] == pytest.approx(reached, rel=0.1)
    assert "load_factor_not_reached" in [finding["code"] for finding in hinge["findings"]]


def test_the_stop_of_a_tip_and_its_jam_are_in_the_document(hinge: dict[str, Any]) -> None:
    """The demo craft's tip: omega sqrt(K I) = 0.46 N m by hand (60 N m/rad, 0.0030 kg m^2,
    62.5 deg/s), more than the steady moment at the box; and a jam rolls harder than the rotors."""
    stop = hinge["folding"][0]["stop"]
    by_hand = np.radians(stop["tip_speed_deg_s"]) * np.sqrt(60.0 * 0.0029775)
    assert stop["shock_N_m"] == pytest.approx(by_hand, rel=1e-6)
    assert stop["shock_N_m"] == pytest.approx(0.46, abs=0.02)
    assert stop["peak_N_m"] == pytest.approx(abs(stop["steady_N_m"]) + stop["shock_N_m"])
    jam = hinge["jammed"][0]
    assert jam["roll"]["held"] == "more than the rotors can"
    assert jam["roll"]["moment_N_m"] < 0.0
    curve = hinge["worm"]["curve"]
    assert np.interp(0.2, curve["friction"], curve["forward_efficiency"]) == pytest.approx(
        (np.cos(np.radians(20.0)) - 0.2 * np.tan(np.radians(4.0)))
        / (np.cos(np.radians(20.0)) + 0.2 / np.tan(np.radians(4.0))),
        rel=2e-3,
    )


def test_hinge_table_and_picture(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    picture = tmp_path / "hinge.svg"
    text = printed(
        capsys, "hinge", thin_file("turnstone", tmp_path), "--airspeed", "14", "--folds=-20:40:3",
        "--airspeeds", "14", "--plot", str(picture), *SMALL,
    )  # fmt: skip
    for words in ("does not lock", "brake certificate", "held in a rolling pull-up", CAUTION):
        assert words in " ".join(text.split()) or words in text
    assert max(len(line) for line in text.splitlines()) <= 80
    assert "worm gear" in picture.read_text(encoding="utf-8")


# --- refusals --------------------------------------------------------------------------------


@pytest.mark.parametrize("command", ["roll", "lateral", "hinge"])
def test_without_masses_is_refused(command: str, capsys: pytest.CaptureFixture[str]) -> None:
    message = refused(capsys, command, "plank", *SMALL)
    assert "missing" in message
    assert message.count("\n") == 1


def test_too_slow_to_fly_could_not_be_completed(capsys: pytest.CaptureFixture[str]) -> None:
    """What is refused names an airspeed at which they can, and that one is flown."""
    assert main(["roll", "tideline", "--airspeed", "7", *SMALL]) == 3
    said = capsys.readouterr().err
    assert "cannot carry the craft with its tips at 0 (port) and 0 deg" in said
    named = re.search(r"at ([\d.]+) m/s they can", said)
    assert named
    folding = FoldingCraft(load_biplane("tideline"), Grid(3, 10))
    craft = folding.at(FoldAngles.symmetric(0.0))
    assert level_flight(craft, float(named[1]), SEA_LEVEL_DENSITY) is not None
    assert level_flight(craft, 7.0, SEA_LEVEL_DENSITY) is None


def test_a_hinge_is_reported_where_one_fold_of_several_can_be_flown() -> None:
    """At 9.5 m/s Tideline's wings carry it with flat tips, but not as a box."""
    folding = FoldingCraft(load_biplane("tideline"), Grid(3, 10))
    blowing = SimpleNamespace(over=lambda folds, airspeed: folding)
    found = flying(blowing, HingePlan(Air(9.5), (-90.0, 0.0)))
    assert found is folding.at(FoldAngles.symmetric(0.0))
    with pytest.raises(ComputationFailed, match=r"-90 deg; at 1.* m.s they can"):
        flying(blowing, HingePlan(Air(9.5), (-90.0,)))


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["lateral", "tideline", "--folds", "5:x:3"], "START:STOP:COUNT"),
        (["roll", "tideline", "--airspeeds", "0:9:3"], "must be positive"),
        (["hinge", "tideline", "--load-factors", "nan"], "finite"),
        (["hinge", "tideline", "--gust-speed", "-2"], "between 0.01 and 100 m/s"),
        (["hinge", "tideline", "--gust-speed", "nan"], "between 0.01 and 100 m/s"),
        (["hinge", "tideline", "--plot", "picture.txt"], ".png, .svg or .pdf"),
        (["hinge", "tideline", "--plot", "nowhere/at/all.png"], "there is no folder"),
        (["lateral", "tideline", "--folds=-170:0:3"], "fold_min_deg"),
        (["roll", "tideline", "--base", "-120"], "fold_min_deg"),
        (["roll", "tideline", "--airspeed", "-5"], "must be positive"),
    ],
)
def test_bad_options_are_refused(
    words: list[str], told: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert told in refused(capsys, *words, *SMALL)
