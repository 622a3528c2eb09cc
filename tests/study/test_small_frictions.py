"""Names, files and pictures that other programs read; yaw beside every roll; remedies that fit."""

import re
import xml.etree.ElementTree as ET
from importlib.util import find_spec
from pathlib import Path
from typing import Any

import click
import numpy as np
import pytest

from vlm.cli.main import main
from vlm.cli.parameters import LogFile
from vlm.description.folds import FoldAngles
from vlm.description.loading import load_biplane
from vlm.errors import InputRefused
from vlm.flight.motion.roll_authority import Air
from vlm.flight.trim.power_warnings import beyond_rotor
from vlm.flight.trim.powered import flight_loads
from vlm.lattice.cellule import Grid
from vlm.power.momentum import disc_flow
from vlm.power.rotor import BladeModel, disc_area
from vlm.show.scenes.drawing import eye_axes, panels_of
from vlm.show.scenes.pictures import DIRECTIONS
from vlm.show.scenes.scene import PRESSURE
from vlm.study.point.session import Session, Setting
from vlm.study.roll.study import RollPlan
from vlm.study.roll.study import _Study as roll_study_of
from vlm.study.sweep.dataset import checked_output, save_dataset, sweep_dataset
from vlm.study.sweep.plan import KeyAxis, SweepPlan
from vlm.study.sweep.running import run_plan

SMALL = Grid(2, 8)
KEY = "arrangement.gap_m"


@pytest.fixture(scope="module")
def swept() -> Any:
    craft = load_biplane("tideline")
    plan = SweepPlan((0.0, 20.0), (4.0,), keys=(KeyAxis(KEY, (0.3, 0.4)),), grid=SMALL)
    return sweep_dataset(craft, plan, run_plan(craft, plan)[0])


def test_axes_over_keys_are_identifiers(swept: Any) -> None:
    assert all(str(name).isidentifier() for name in (*swept.dims, *swept.coords, *swept.data_vars))
    # As an attribute, which a name with a dot is not.
    np.testing.assert_allclose(swept.arrangement_gap_m, [0.3, 0.4])
    assert swept.arrangement_gap_m.attrs["long_name"] == f"key of the geometry file, {KEY}"
    assert swept.arrangement_gap_m.attrs["units"] == "m"
    apart = swept.CL.sel(arrangement_gap_m=0.3, fold=0.0).squeeze()
    craft = load_biplane("tideline", [f"{KEY}=0.3"])
    plan = SweepPlan((0.0,), (4.0,), grid=SMALL)
    own = sweep_dataset(craft, plan, run_plan(craft, plan)[0]).CL.squeeze()
    assert float(apart) == pytest.approx(float(own), rel=1e-12)


def test_keys_whose_axes_would_share_a_name_are_refused() -> None:
    with pytest.raises(InputRefused, match="times"):
        SweepPlan((0.0,), keys=(KeyAxis("a.b", (1.0, 2.0)), KeyAxis("a_b", (1.0, 2.0))))


def test_parquet_holds_rows_and_what_they_are(swept: Any, tmp_path: Path) -> None:
    """Read back by pyarrow, a general library."""
    if find_spec("pyarrow") is None:
        with pytest.raises(InputRefused, match="pip install pyarrow"):
            checked_output(tmp_path / "a.parquet")
        pytest.skip("no pyarrow here; that it is asked for was checked")
    import pandas as pd

    save_dataset(swept, tmp_path / "a.parquet")
    frame = pd.read_parquet(tmp_path / "a.parquet")
    assert len(frame) == swept.CL.size
    row = frame[(frame.arrangement_gap_m == 0.4) & (frame.fold == 20.0)]
    value = float(swept.CL.sel(arrangement_gap_m=0.4, fold=20.0).squeeze())
    assert float(row.CL.iloc[0]) == value
    assert frame.attrs["variables"]["CL"]["units"] == "1"
    assert frame.attrs["attributes"]["title"] == swept.attrs["title"]


def test_a_drawing_holds_every_panel_as_an_area(tmp_path: Path) -> None:
    """Source of the form: SVG 1.1 (W3C), read by the standard library's XML reader."""
    out = tmp_path / "craft.svg"
    words = ["--fold", "-40", "--rows", "2", "--strips", "8", "-o", str(out), "--from", "rear"]
    assert main(["view", "tideline", *words]) == 0
    text = out.read_text()
    ET.fromstring(text)
    assert "<image" not in text.split("</defs>")[-1].split("colorbar")[0]
    scene = Session(load_biplane("tideline"), SMALL).scene(Setting(-40.0, -40.0, 4.0, 0.0, 12.0))
    panels = panels_of(scene, PRESSURE)[0]
    areas = re.findall(r'id="PolyCollection_1".*?</g>', text, re.DOTALL)[0]
    assert areas.count("<path") == len(panels)
    assert "Tideline" in text
    assert "starboard" in text


@pytest.mark.parametrize("direction", DIRECTIONS)
def test_the_eye_sees_right_up_and_near(direction: str) -> None:
    """From behind starboard is on the right, from above the nose points up, by the axes' names."""
    axes = eye_axes(direction)
    np.testing.assert_allclose(axes @ axes.T, np.eye(3), atol=1e-12)
    assert np.linalg.det(axes) == pytest.approx(1.0)
    expected = {"rear": ([0, 1, 0], [0, 0, 1]), "front": ([0, -1, 0], [0, 0, 1]),
                "side": ([-1, 0, 0], [0, 0, 1]), "top": ([0, 1, 0], [-1, 0, 0])}  # fmt: skip
    if direction in expected:
        right, up = expected[direction]
        np.testing.assert_allclose(axes[:2], [right, up], atol=1e-12)


def test_the_contest_flies_the_command_that_is_asked_for() -> None:
    craft = load_biplane("tideline")
    command = FoldAngles(20.0, -50.0)
    study = roll_study_of(craft, RollPlan(Air(13.0), grid=SMALL, target=command), print)
    found = study.rotors((13.0,), command)
    assert found is not None
    assert found.airspeeds is not None
    assert (found.left_deg, found.right_deg) == (20.0, -50.0)
    last = found.airspeeds[-1]
    trim = study.conditions.trim(FoldAngles(), 13.0)
    assert trim is not None
    loads = flight_loads(
        study.conditions.powered(command), np.array([13.0]), np.array([trim.alpha]),
        trim.thrusts[None, :],
    )  # fmt: skip
    _, moment = loads.wings()
    # Body axes x ahead, z down; geometry axes x aft, z up (docs, conventions).
    assert last.tips_N_m == pytest.approx(-moment[0, 0], rel=1e-6)
    assert last.tips_yawing_N_m == pytest.approx(-moment[0, 2], rel=1e-6)
    assert last.rotors_yawing_N_m is not None
    assert last.rotors_yawing_N_m > 0.0


def test_yaw_stands_beside_every_roll() -> None:
    study = roll_study_of(load_biplane("tideline"), RollPlan(Air(13.0), grid=SMALL), print)
    row = study.airspeed_row(13.0, (0.0, -60.0))
    pair = study.moments.pair(FoldAngles(0.0, -60.0), Air(13.0))
    assert row.strongest is not None
    assert pair is not None
    assert row.strongest.yawing_moment_N_m == pytest.approx(pair.yawing.value)
    assert row.strongest.yawing_half_width_N_m == pytest.approx(pair.yawing.half_width)
    assert row.strongest.yaw == pair.yaw
    # Starboard tip down and in: less lift there, and less drag, so that the nose turns to port.
    assert row.strongest.rolling_moment_N_m > 0.0
    assert pair.yaw == "adverse"
    assert row.strongest.yawing_moment_N_m < 0.0


def test_a_rotor_of_blades_is_not_reported_to_widen_a_table() -> None:
    rotor = (
        load_biplane("tideline")
        .rotors[0]
        .model_copy(update={"form": "blades", "solidity": 0.08, "pitch_m": 0.12, "table": None})
    )
    told = beyond_rotor(rotor, 12.0)
    assert "table" not in told.what + told.remedy
    assert "thrust_min_N" in told.remedy

    def can(pitch: float, thrust: float) -> bool:
        model = BladeModel(rotor.model_copy(update={"pitch_m": pitch}))
        zero = np.zeros(1)
        flow = disc_flow(np.array([thrust]), np.array([12.0]), zero, 1.225, disc_area(rotor))
        return bool(model.state(flow, 1.225).in_range[0])

    # The remedies do what they say: less braking, or less pitch.
    hardest = next(-t for t in np.linspace(0.1, 50.0, 500) if not can(0.12, -float(t)))
    assert can(0.12, 0.5 * float(hardest))
    assert can(0.06, float(hardest))


def test_a_shipped_log_is_known_by_its_name() -> None:
    found = LogFile().convert("tideline-invented.csv", None, None)
    assert found.parent.name == "logs"
    assert LogFile().convert("tideline-invented", None, None) == found
    with pytest.raises(click.BadParameter, match="did you mean tideline-invented"):
        LogFile().convert("tideline-invent.csv", None, None)
    with pytest.raises(click.BadParameter, match="no such flight log"):
        LogFile().convert("nobody-s-log.csv", None, None)
