"""What commands say of fins: the same numbers by other ways, and nothing left out in silence."""

import json
from pathlib import Path

import numpy as np
import pytest
import xarray as xr
from fin_craft import plate, two_wings
from thin_craft import thin_file

from vlm.cli.main import main
from vlm.description.folds import FoldAngles
from vlm.description.loading import load_biplane
from vlm.lattice.cellule import Grid, build_cellule
from vlm.loads.state import FlightState
from vlm.study.point.document import point_document
from vlm.study.point.point import solve_point
from vlm.study.point.session import Session, Setting
from vlm.study.point.sizes import fin_areas, surface_areas
from vlm.study.sweep.naming import described

SMALL = ("--rows", "3", "--strips", "10")
KEEL = plate(name="keel", x_m=0.7, z_m=-0.2, span_m=0.15, end_chord_m=0.1)
PLATES = plate(name="plates", y_m=0.3, joined_to="lower", end_joined_to="upper")
CRAFT = two_wings(0.3, fins=(KEEL, PLATES))


def test_areas_are_those_of_trapezoids() -> None:
    areas = fin_areas(build_cellule(CRAFT))
    assert areas == pytest.approx({"keel": 0.15 * 0.15, "plates": 2 * 0.3 * 0.2})
    wings = {"upper": 0.2, "lower": 0.2}
    assert surface_areas(build_cellule(CRAFT)) == pytest.approx(
        wings | {"fin_keel": 0.0225, "fin_plates": 0.12}
    )


def test_surfaces_add_up_to_the_craft() -> None:
    state = FlightState(alpha=0.06, beta=0.05)
    report = solve_point(CRAFT, FoldAngles(), state, grid=Grid(3, 10))
    found = point_document(report)
    whole = found["coefficients"]
    parts = [*found["wings"].values(), *found["fins"].values()]
    lift = sum(one["CL"] * one["area_m2"] for one in parts)
    assert lift == pytest.approx(whole["CL"] * 0.4, rel=1e-9)
    assert sum(one["CDi_share"] for one in parts) == pytest.approx(1.0, rel=1e-9)
    side = sum(one["CY"] * one["area_m2"] for one in found["fins"].values())
    assert side == pytest.approx(whole["CY"] * 0.4, rel=0.05)  # flat wings have little
    strips = [one for one in found["strips"] if one["wing"] == "keel"]
    assert len(strips) == next(p for p in report.lattice.patches if p.on_plane).strips
    normal = sum(one["cl"] * one["chord_m"] * one["width_m"] for one in strips)
    assert abs(normal) == pytest.approx(abs(found["fins"]["keel"]["CY"]) * 0.0225, rel=0.02)
    for name in ("CL_fin_keel", "CY_fin_plates", "CDi_share_fin_keel"):
        assert found["error_estimate"][name] >= 0.0


def test_pressures_on_a_keel_are_those_of_both_copies() -> None:
    scene = Session(CRAFT, Grid(3, 10)).scene(Setting(alpha_deg=0.0, beta_deg=3.0))
    (keel,) = [surface for surface in scene.surfaces if surface.wing == "keel"]
    areas = np.linalg.norm(
        0.5 * np.cross(keel.corners[1:, 1:] - keel.corners[:-1, :-1],
                       keel.corners[1:, :-1] - keel.corners[:-1, 1:]), axis=-1)  # fmt: skip
    across = float(np.sum(keel.pressure * areas))
    state = FlightState(beta=float(np.radians(3.0)), airspeed=12.0)
    report = solve_point(CRAFT, FoldAngles(), state, grid=Grid(3, 10), errors=False)
    pressure = 0.5 * 1.225 * 12.0**2
    assert across == pytest.approx(abs(report.fins["keel"].CY) * 0.0225 * pressure, rel=1e-3)


def test_sweeps_hold_the_numbers_of_every_fin(tmp_path: Path) -> None:
    out = str(tmp_path / "s.nc")
    words = ("--fold", "-20:20:3", "--alpha", "4", "--out", out)
    assert main(["sweep", "teasel", *words, *SMALL]) == 0
    with xr.open_dataset(out) as found:
        for name in ("CL_fin_tailplane", "CY_fin_keel", "CDi_share_fin_plates"):
            assert {"fold", "alpha"} <= set(found[name].dims)
            assert "of the fin" in found[name].attrs["long_name"]
    assert described("CY_fin_keel")["units"] == "1"


def test_bending_of_the_wings_says_that_it_leaves_fins_out(tmp_path: Path, capsys) -> None:
    words = ("--folds", "0", "--airspeeds", "16", *SMALL, "--json")
    assert main(["hinge", thin_file("teasel", tmp_path), *words]) == 0
    rows = json.loads(capsys.readouterr().out)["wings"]
    assert all(row["fins_left_out"] and row["joined"] for row in rows)


def test_check_lists_and_draws_fins(tmp_path: Path, capsys) -> None:
    path = tmp_path / "views.svg"
    assert main(["check", "teasel", "--plot", str(path)]) == 0
    printed = capsys.readouterr().out
    for fin in load_biplane("teasel").fins:
        assert any(line.startswith(fin.name) for line in printed.splitlines())
    assert max(len(line) for line in printed.splitlines()) <= 80
    assert "fins (plates, tailplane, keel)" in path.read_text()


def test_unusual_fins_are_warned_of(capsys) -> None:
    assert main(["check", "teasel", "--set", "fins.2.span_m=22"]) == 0
    assert "fins.2.span_m" in capsys.readouterr().out
