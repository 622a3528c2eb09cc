"""``foldspan point``, ``sweep``, ``check``, ``schema``: what they print, where, how they end."""

import json
import math
from pathlib import Path

import numpy as np
import pytest

from vlm.cli.main import main
from vlm.description.folds import FoldAngles
from vlm.description.loading import load_biplane
from vlm.lattice.cellule import Grid
from vlm.lattice.lattice import build_lattice
from vlm.loads.coefficients import coefficients, derivatives
from vlm.loads.craft_loads import loads_of_state
from vlm.loads.state import FlightState
from vlm.show.text.answer import CAUTION

COARSE = ("--rows", "2", "--strips", "8")
DERIVATIVES = {
    "CL_alpha", "Cm_alpha", "CY_beta", "Cl_beta", "Cn_beta", "CY_p", "Cl_p", "Cn_p", "CY_r", "Cl_r",
    "Cn_r", "CL_q", "Cm_q", "CL_fold_left", "Cl_fold_left", "Cn_fold_left", "CL_fold_right",
    "Cl_fold_right", "Cn_fold_right",
}  # fmt: skip


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    """Run a command in an empty folder: status, standard output, standard error."""
    monkeypatch.chdir(tmp_path)

    def call(*words: object) -> tuple[int, str, str]:
        capsys.readouterr()
        status = main([str(word) for word in words])
        printed = capsys.readouterr()
        return status, printed.out, printed.err

    return call


def document(printed: tuple[int, str, str]) -> dict:
    """The one JSON document on standard output."""
    status, out, err = printed
    assert status == 0, err
    return json.loads(out)


# --- point -----------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def point() -> dict:
    """The document of a point with everything asked for."""
    import contextlib
    import io

    stream = io.StringIO()
    words = "point tideline --alpha 4 --beta 2 --fold-left 20 --fold-right -10 --airspeed 15"
    words += " --density 1.1 --p-hat 0.02 --q-hat 0.003 --r-hat -0.01 --rows 3 --strips 10 --json"
    with contextlib.redirect_stdout(stream):
        assert main(words.split()) == 0
    return json.loads(stream.getvalue())


def test_keys_of_the_point_document(point: dict) -> None:
    assert {
        "state", "reference", "coefficients", "derivatives", "neutral_point_m", "static_margin",
        "wings", "hinges", "strips", "lattice", "error_estimate",
    } <= set(point)  # fmt: skip
    assert point["state"] == pytest.approx(
        {
            "alpha_deg": 4.0, "beta_deg": 2.0, "p_hat": 0.02, "q_hat": 0.003, "r_hat": -0.01,
            "fold_left_deg": 20.0, "fold_right_deg": -10.0, "airspeed_m_s": 15.0,
            "density_kg_m3": 1.1,
        }
    )  # fmt: skip
    assert set(point["reference"]) == {"area_m2", "span_m", "chord_m", "moment_point_m"}
    assert len(point["reference"]["moment_point_m"]) == 3
    assert {
        "CL", "CDi", "CDi_surface", "CY", "Cl", "Cm", "Cn", "span_efficiency",
        "best_span_efficiency",
    } <= set(point["coefficients"])  # fmt: skip
    assert set(point["derivatives"]) == {"body", "stability"}
    for axes in ("body", "stability"):
        assert set(point["derivatives"][axes]) == DERIVATIVES
    assert set(point["wings"]) == {"upper", "lower"}
    assert set(point["wings"]["upper"]) == {"CL", "CDi_share", "area_m2"}
    assert set(point["hinges"]) == {"upper_left", "upper_right"}
    assert set(point["hinges"]["upper_left"]) == {"moment_N_m", "moment_coefficient"}
    assert {
        "wing", "side", "y_m", "z_m", "chord_m", "cl", "circulation_m2_s",
    } <= set(point["strips"][0])  # fmt: skip
    assert {"panels", "rows", "strips"} <= set(point["lattice"])
    assert (point["lattice"]["rows"], point["lattice"]["strips"]) == (3, 10)
    assert {"CL", "CDi", "Cl", "Cl_beta"} <= set(point["error_estimate"])


def plain_values(value: object) -> bool:
    """Only what JSON has: no NaN, no infinity."""
    if isinstance(value, dict):
        return all(plain_values(item) for item in value.values())
    if isinstance(value, list):
        return all(plain_values(item) for item in value)
    return value is None or isinstance(value, str | int | bool) or math.isfinite(value)


def test_numbers_of_the_point_document_are_plain_and_those_of_the_library(point: dict) -> None:
    assert plain_values(point)
    craft = load_biplane("tideline")
    state = FlightState(
        math.radians(4.0), math.radians(2.0), 0.02, 0.003, -0.01, airspeed=15.0, density=1.1
    )
    loads = loads_of_state(build_lattice(craft, FoldAngles(20.0, -10.0), Grid(3, 10)), state)
    values, slopes = coefficients(loads, state), derivatives(loads, state)
    for name in ("CL", "CDi", "CDi_surface", "CY", "Cl", "Cm", "Cn", "best_span_efficiency"):
        assert point["coefficients"][name] == pytest.approx(getattr(values, name), rel=1e-12)
    for axes in ("body", "stability"):
        assert point["derivatives"][axes] == pytest.approx(slopes[axes], rel=1e-10)
    aspect = point["reference"]["span_m"] ** 2 / point["reference"]["area_m2"]
    efficiency = values.CL**2 / (math.pi * aspect * values.CDi)
    assert point["coefficients"]["span_efficiency"] == pytest.approx(efficiency, rel=1e-12)
    margin = -slopes["body"]["Cm_alpha"] / slopes["body"]["CL_alpha"]
    assert point["static_margin"] == pytest.approx(margin)
    place = point["reference"]["moment_point_m"][0] + margin * point["reference"]["chord_m"]
    assert point["neutral_point_m"] == pytest.approx(place)
    hinge = point["hinges"]["upper_right"]
    tip_area, tip_span, pressure = 0.36 * 0.17, 0.36, 0.5 * 1.1 * 15.0**2
    expected = hinge["moment_N_m"] / (pressure * tip_area * tip_span)
    assert hinge["moment_coefficient"] == pytest.approx(expected)


def test_json_alone_stands_on_standard_output(run_foldspan) -> None:
    """In a process of its own: warnings go to standard error, the document to standard output."""
    found = run_foldspan("point", "plank", "--alpha", "14", *COARSE, "--json")
    assert found.returncode == 0
    assert json.loads(found.stdout)["state"]["alpha_deg"] == pytest.approx(14.0)
    doubt, *others = found.stderr.splitlines()
    assert others == []
    assert doubt.startswith("warning: angle of attack beyond attached flow: 14 deg, limit 12 deg")


def test_a_joined_fold_has_null_for_what_does_not_exist(run) -> None:
    found = document(run("point", "tideline", "--alpha", 4, "--fold", -90, *COARSE, "--json"))
    assert found["derivatives"]["body"]["CL_fold_left"] is None
    assert found["derivatives"]["body"]["Cl_beta"] is not None
    assert set(found["lattice"]["joined_tips"]) == {"upper_left", "upper_right"}


def test_a_monoplane_without_tips(run) -> None:
    found = document(run("point", "plank", "--alpha", 4, *COARSE, "--json"))
    assert set(found["wings"]) == {"upper"}
    assert found["hinges"] == {}
    assert found["derivatives"]["body"]["CL_fold_left"] == 0.0


def test_the_error_estimate_may_be_left_out(run) -> None:
    words = ("point", "plank", "--alpha", 4, *COARSE, "--json")
    assert document(run(*words, "--no-errors"))["error_estimate"] is None
    estimate = document(run(*words))["error_estimate"]
    assert estimate["CL"] > 0.0
    # Two rows and six strips have no coarser lattice beside them.
    found = document(run("point", "plank", "--alpha", 4, "--rows", 2, "--strips", 6, "--json"))
    assert found["error_estimate"]["CL"] is None


@pytest.mark.parametrize(
    ("words", "folds"),
    [
        ((), (0.0, 0.0)),
        (("--fold", "15"), (15.0, 15.0)),
        (("--fold-left", "15"), (15.0, 0.0)),
        (("--fold-right", "-5", "--fold-left", "15"), (15.0, -5.0)),
        (("--configuration", "bank_right"), (0.0, -45.0)),
    ],
)
def test_ways_to_give_the_folds(run, words, folds) -> None:
    state = document(
        run("point", "tideline", "--alpha", 4, *COARSE, "--no-errors", "--json", *words)
    )["state"]
    assert (state["fold_left_deg"], state["fold_right_deg"]) == folds


def test_set_overrides_a_key(run) -> None:
    words = ("point", "tideline", "--alpha", 4, *COARSE, "--no-errors", "--json")
    wide = document(run(*words, "--set", "upper.span_m=1.0", "--set", "reference.area_m2=0.5"))
    assert wide["reference"]["span_m"] == pytest.approx(1.72)
    assert wide["reference"]["area_m2"] == 0.5


def test_the_wake_may_follow_the_stream(run) -> None:
    words = ("point", "tideline", "--alpha", 6, "--fold", 40, *COARSE, "--no-errors", "--json")
    craft, stream = document(run(*words, "--wake", "craft")), document(run(*words))
    assert (craft["lattice"]["wake"], stream["lattice"]["wake"]) == ("craft", "stream")
    one, two = (d["derivatives"]["body"]["Cl_beta"] for d in (craft, stream))
    assert one != pytest.approx(two, rel=0.01)


def test_the_table_for_people(run) -> None:
    status, out, _ = run("point", "tideline", "--alpha", 4, "--fold", 20, "--full", *COARSE)
    assert status == 0
    assert out.startswith(f"Tideline, a shore-survey biplane: one setting\n{CAUTION}\n")
    words = " ".join(out.split())
    assert "Tips at 20 deg, angle of attack 4 deg, 12 m/s at 1.225 kg/m^3: CL " in words
    assert "reference area 0.4080 m^2, span 1.560 m, chord 0.1700 m, moment point (" in words
    for head in ("Coefficients", "Derivatives, per radian", "Wings", "Hinge moments", "Strips"):
        assert f"\n{head}" in out
    assert "Stable dihedral effect: Cl_beta " in words
    assert "positive: starboard wing down" in words


# --- refusals --------------------------------------------------------------------------------


GIVE_ONE = "give one of --fold, --fold-left with --fold-right, and --configuration"
LONG_TIP = "--set upper.tips.span_m=0.5 --set lower.span_m=1.2"
REFUSED_POINTS = [
    ("tidelin --alpha 4", "did you mean tideline?"),
    ("tideline", "Missing option '--alpha'."),
    ("tideline --alpha x", "Invalid value for '--alpha': 'x' is not a valid float."),
    ("tideline --alpha 4 --fold 1 --configuration dash", GIVE_ONE),
    ("tideline --alpha 4 --fold 1 --fold-left 2", GIVE_ONE),
    ("tideline --alpha 4 --configuration lotier", "did you mean loiter?"),
    ("tideline --alpha 4 --configuration zzz", "the file names open, loiter, dash"),
    ("tideline --alpha 4 --fold 125", "passes upper.tips.fold_max_deg = 120"),
    ("tideline --alpha 4 --fold 180", "a fold must lie between -180 and 180"),
    ("tideline --alpha 4 --fold nan", "a fold must lie between -180 and 180"),
    ("plank --alpha 4 --fold 5", "neither wing has any ([upper.tips])"),
    ("tideline --alpha 200", "--alpha = 200; an angle between -180 and 180 degrees"),
    ("tideline --alpha nan", "--alpha = nan; an angle between"),
    ("tideline --alpha 4 --beta 91", "--beta = 91; an angle between -90 and 90 degrees"),
    ("tideline --alpha 4 --p-hat inf", "--p-hat = inf; it must be a number"),
    ("tideline --alpha 4 --airspeed 0", "--airspeed = 0; it must be positive"),
    ("tideline --alpha 4 --density -1", "--density = -1; it must be positive"),
    ("tideline --alpha 4 --airspeed nan", "--airspeed = nan; it must be positive"),
    ("tideline --alpha 4 --rows 0", "0 is not in the range 1<=x<=100."),
    ("tideline --alpha 4 --strips 3", "3 is not in the range 4<=x<=400."),
    ("tideline --alpha 4 --wake free", "'free' is not one of 'stream', 'craft', 'relaxed'."),
    ("tideline --alpha 4 --set gap=1", "gap is not a known key"),
    ("tideline --alpha 4 --set arrangement.gap_m=-1", "a length must be positive"),
    ("tideline --alpha 4 --alfa 5", "--alfa"),  # click 8.2 and later word it otherwise
    (
        f"tideline --alpha 4 --fold -80 {LONG_TIP}",
        "tip meets the lower wing: on the way to a fold of -80 degrees they touch at -63.4",
    ),
]
REFUSED_SWEEPS = [
    ("--out a.nc", "Missing option '--folds' / '--fold'."),
    ("--fold 0", "sweep writes a dataset, a picture or both: give --out or --plot."),
    ("--fold 0:1 --out a.nc", "--folds = 0:1; write START:STOP:COUNT"),
    ("--fold 1,1 --out a.nc", "1 stands there more than once"),
    ("--fold 0 --alpha 181 --out a.nc", "alphas_deg holds 181; angles between"),
    ("--fold 190 --out a.nc", "a fold must lie between -180 and 180"),
    ("--fold 0 --out a.txt", "--out a.txt; the ending must be .nc (NetCDF), .csv or .parquet"),
    ("--fold 0 --out x/a.nc", "--out x/a.nc; there is no folder x"),
    ("--fold 0 --out a.nc --plot a.gif", "--plot a.gif; the ending must be .png"),
    ("--fold 0 --out a.nc --plot x/a.png", "there is no folder x"),
    ("--fold 0 --asymmetric --out a.nc --plot a.png", "needs two folds or more"),
    ("--fold 0 --out a.nc --over gap_m", "--over gap_m; write KEY=START:STOP:COUNT"),
    ("--fold 0 --out a.nc --over arrangement.gop_m=1", "did you mean gap_m?"),
    ("--fold 0 --out a.nc --over arrangement.gap_m=-1:1:3", "must be positive"),
    ("--fold 0 --out a.nc --workers 0", "0 is not in the range 1<=x<=256."),
    ("--fold 0 --out a.nc --density 0", "--density = 0; it must be positive"),
]
REFUSED = [
    *((f"point {words}", message) for words, message in REFUSED_POINTS),
    *((f"sweep tideline {words}", message) for words, message in REFUSED_SWEEPS),
    ("check tideline --fold 0:1", "--folds = 0:1; write START:STOP:COUNT, a list A,B,C"),
    ("check nothing.toml", "nothing.toml"),
]


@pytest.mark.parametrize(("words", "message"), REFUSED)
def test_refusals_are_one_message_with_status_2(run, words: str, message: str) -> None:
    status, out, err = run(*words.split())
    assert status == 2
    assert out == ""
    assert message in err
    assert "Traceback" not in err
    assert [line for line in err.splitlines() if line.startswith("foldspan: ")] == [
        err.splitlines()[-1]
    ]


def test_a_geometry_file_that_is_wrong_is_reported_with_its_key(run, tmp_path: Path) -> None:
    (tmp_path / "mine.toml").write_text('title = "Mine"\n[upper]\nspann_m = 1.0\n')
    status, out, err = run("point", "mine.toml", "--alpha", 4)
    assert (status, out) == (2, "")
    assert "mine.toml: upper.spann_m is not a known key; did you mean span_m?" in err


def test_strict_ends_with_status_3_after_the_result(run) -> None:
    status, out, err = run("point", "plank", "--alpha", 14, *COARSE, "--strict", "--json")
    assert status == 3
    assert json.loads(out)["coefficients"]["CL"] > 0.5
    assert err.splitlines()[-1] == (
        "foldspan: there are warnings (angle_of_attack), which --strict does not allow"
    )


# --- sweep -----------------------------------------------------------------------------------


def test_sweep_prints_a_table_and_writes_dataset_and_picture(run, tmp_path: Path) -> None:
    status, out, err = run(
        "sweep", "tideline", "--fold", "-100:60:5", "--alpha", "0:8:3", *COARSE,
        "--out", "a.nc", "--plot", "a.png",
    )  # fmt: skip
    assert status == 0
    title = "Tideline, a shore-survey biplane: sweep, angle of attack 4 deg, sideslip 0 deg"
    assert out.startswith(f"{title}\n{CAUTION}\n\nFor the same lift (CL ")
    lines = out.partition("fold [deg]")[2].splitlines()
    rows = [line.split() for line in lines if line.strip().startswith(("-", "2", "6"))]
    assert [row[0] for row in rows if row[0][0] != "-" or row[0][1].isdigit()] == [
        "-100", "-60", "-20", "20", "60",
    ]  # fmt: skip
    assert "wrote a.nc and a.png" in err
    assert "1 of 5 cases have no numbers: " in err
    assert "passes upper.tips.fold_min_deg = -90" in err
    assert (tmp_path / "a.png").read_bytes().startswith(b"\x89PNG")
    assert not list(tmp_path.glob(".*"))  # no leftovers beside the result


def test_sweep_writes_a_picture_alone(run, tmp_path: Path) -> None:
    status, _, err = run(
        "sweep", "tideline", "--fold", "0,20", *COARSE, "--plot", "a.png", "--no-cache"
    )
    assert status == 0
    assert "wrote a.png" in err
    assert (tmp_path / "a.png").read_bytes().startswith(b"\x89PNG")
    assert [path.name for path in tmp_path.iterdir()] == ["a.png"]


def test_sweep_in_a_process_of_its_own_keeps_standard_output_clean(run_foldspan, tmp_path) -> None:
    """With two workers, a progress bar asked for, and pipes on both streams."""
    found = run_foldspan(
        "sweep", "tideline", "--fold", "0:60:7", "--asymmetric", *COARSE, "--workers", "2",
        "--out", "a.csv", "--json", cwd=tmp_path,
    )  # fmt: skip
    assert found.returncode == 0, found.stderr
    document = json.loads(found.stdout)
    assert document["variables"]["Cl"]["dims"] == ["fold_left", "fold_right", "alpha", "beta"]
    assert "Traceback" not in found.stderr
    assert found.stderr.splitlines()[-1] == "wrote a.csv"
    assert (tmp_path / "a.csv").read_text().startswith("# title: Tideline")


def test_sweep_document(run) -> None:
    words = ("sweep", "tideline", "--fold", "-95,0,30", *COARSE, "--out", "a.nc", "--json")
    found = document(run(*words, "--over", "arrangement.gap_m=0.36,0.4", "--errors"))
    assert set(found) == {"attributes", "coordinates", "variables", "input_findings"}
    assert found["coordinates"]["fold"] == [-95.0, 0.0, 30.0]
    assert found["coordinates"]["arrangement_gap_m"] == [0.36, 0.4]
    lift = found["variables"]["CL"]
    assert lift["dims"] == ["arrangement_gap_m", "fold", "alpha", "beta"]
    assert lift["units"] == "1"
    assert lift["long_name"] == "lift coefficient, wind axes"
    values = np.array(lift["values"], dtype=float)
    assert values.shape == (2, 3, 1, 1)
    assert np.isnan(values[:, 0]).all()
    assert lift["values"][0][0][0][0] is None
    assert "CL_error" in found["variables"]
    assert "passes upper.tips.fold_min_deg" in found["variables"]["failure"]["values"][0][0]
    assert "not a flight clearance" in found["attributes"]["caution"]


def test_a_sweep_without_a_single_number_ends_with_status_3(run, tmp_path: Path) -> None:
    status, out, err = run(
        "sweep", "tideline", "--fold", "-110,-100", *COARSE, "--out", "a.nc", "--plot", "a.png"
    )
    assert (status, out) == (3, "")
    assert "none of the 2 cases could be computed: " in err
    assert "(all reasons stand in a.nc)" in err
    assert (tmp_path / "a.nc").exists()


def test_a_stopped_sweep_of_another_craft_is_reported(run, tmp_path: Path) -> None:
    store = tmp_path / ".a.nc.unfinished"
    store.mkdir()
    (store / "chunk-000000.npz").write_bytes(b"")
    (store / "run.json").write_text('{"digest": "other"}')
    status, _, err = run("sweep", "tideline", "--fold", "0", *COARSE, "--out", "a.nc")
    assert status == 2
    assert "holds a stopped run of another craft, plan or version" in err


# --- check ---------------------------------------------------------------------------------


def test_check_document_of_the_box(run) -> None:
    found = document(run("check", "tideline", "--json"))
    upper = found["wings"]["upper"]
    assert upper["flat_span_m"] == pytest.approx(0.84 + 0.72)
    assert upper["area_m2"] == pytest.approx(1.56 * 0.17)
    assert upper["aspect_ratio"] == pytest.approx(1.56 / 0.17)
    assert upper["tip_area_m2"] == pytest.approx(0.36 * 0.17)
    assert upper["tip_share_of_area"] == pytest.approx(0.72 / 1.56)
    assert found["wings"]["lower"]["tip_area_m2"] is None
    arrangement = found["arrangement"]
    assert arrangement["gap_over_chord"] == pytest.approx(0.36 / 0.17)
    assert arrangement["stagger_over_chord"] == 0.0
    assert arrangement["gap_over_span"] == pytest.approx(0.36 / 1.56)
    assert arrangement["decalage_deg"] == 0.0
    assert found["configurations"]["bank_right"] == {"left_deg": 0.0, "right_deg": -45.0}
    folds = {row["fold_deg"]: row for row in found["folds"]}
    assert min(folds) == -90.0
    assert max(folds) == 120.0
    assert folds[0.0]["span_m"] == pytest.approx(1.56)
    assert folds[60.0]["span_m"] == pytest.approx(1.2)
    assert folds[-90.0]["state"] == "ends joined"
    assert folds[-90.0]["clearance_m"] == 0.0
    # The lower wing's end, a gap below the hinge, lies this far off the dropped tip's plane.
    expected = 0.36 * math.cos(math.radians(75.0))
    assert folds[-75.0]["clearance_m"] == pytest.approx(expected)


def test_check_decalage_and_stagger(run) -> None:
    found = document(run("check", "turnstone", "--json"))
    assert found["arrangement"]["decalage_deg"] == pytest.approx(1.0)
    assert found["arrangement"]["stagger_m"] == pytest.approx(0.03)


def test_check_of_folds_that_were_asked_for_tells_which_cannot_be(run) -> None:
    found = document(run("check", "tideline", "--fold", "-95,0,10", "--json"))
    rows = found["folds"]
    assert [row["fold_deg"] for row in rows] == [-95.0, 0.0, 10.0]
    assert "passes upper.tips.fold_min_deg = -90" in rows[0]["state"]
    assert rows[0]["clearance_m"] is None


def test_check_of_a_monoplane(run) -> None:
    found = document(run("check", "plank", "--json"))
    assert found["arrangement"] is None
    assert found["folds"] == []
    assert found["reference"]["aspect_ratio"] == pytest.approx(6.0)


def test_check_table(run) -> None:
    status, out, err = run("check", "winnow")
    assert (status, err) == (0, "")
    title = "Winnow, a seed-sowing biplane: what the file describes"
    assert out.startswith(f"{title}\n{CAUTION}\n\nA biplane of ")
    assert "decalage 1.50 deg (upper less lower incidence)" in out
    assert "gap 0.4400 m" in out
    assert "clearance of the tips" in out
    assert max(len(line) for line in out.splitlines()) <= 80
    assert not any(line.endswith(" ") for line in out.splitlines())


# --- schema ----------------------------------------------------------------------------------


def test_schema_on_standard_output_and_in_a_file(run, tmp_path: Path) -> None:
    status, out, err = run("schema")
    assert (status, err) == (0, "")
    schema = json.loads(out)
    assert schema["$schema"].startswith("https://json-schema.org/")
    assert {"title", "upper", "lower", "arrangement"} <= set(schema["properties"])
    status, out, err = run("schema", "--out", "s.json")
    assert (status, out, err) == (0, "", "wrote s.json\n")
    assert json.loads((tmp_path / "s.json").read_text()) == schema


def test_schema_into_a_folder_that_is_not_there(run) -> None:
    status, out, err = run("schema", "--out", "none/s.json")
    assert (status, out) == (2, "")
    assert "--out none/s.json; there is no folder none" in err
