"""``foldspan motion`` from outside: JSON, dataset, picture, page, refusals."""

import contextlib
import io
import json
from dataclasses import dataclass
from pathlib import Path

import pytest
from chromium import barriers, browser, opened

from vlm.cli.main import main

QUICK = ("--rows", "2", "--strips", "6", "--no-error", "--quasi-steady", "--airspeed", "13")


@dataclass(frozen=True)
class Ended:
    """Exit status and both streams of a command."""

    exit_code: int
    stdout: str
    stderr: str


def motion(*words: str) -> Ended:
    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        status = main(["motion", *words])
    return Ended(int(status), out.getvalue(), err.getvalue())


@pytest.fixture(scope="module")
def answered(tmp_path_factory: pytest.TempPathFactory) -> tuple[dict[str, object], Path]:
    folder = tmp_path_factory.mktemp("motion")
    result = motion(
        "turnstone", *QUICK, "--to-left", "4", "--to-right", "-4", "--duration", "0.25", "--json",
        "--plot", str(folder / "a.svg"), "--scene", str(folder / "a.html"),
        "-o", str(folder / "a.nc"),
    )  # fmt: skip
    assert result.exit_code == 0, result.stderr
    return json.loads(result.stdout), folder


def test_json_says_what_happened(answered: tuple[dict[str, object], Path]) -> None:
    document, _ = answered
    left, right = document["sides"]  # type: ignore[misc]
    assert (left["commanded_deg"], right["commanded_deg"]) == pytest.approx((4.0, -4.0))
    assert left["time_s"] > 0.0
    assert document["cut_off"] == ""
    # No error was worked out, so that nothing is said to be kept or broken.
    assert document["within_limits"] is None
    history = document["history"]
    assert len(history["time_s"]) == len(history["bank_deg"])  # type: ignore[index]
    assert history["hinge_lower_left_N_m"]  # type: ignore[index]


def test_dataset_picture_and_page(answered: tuple[dict[str, object], Path]) -> None:
    import xarray as xr

    document, folder = answered
    dataset = xr.load_dataset(folder / "a.nc", engine="h5netcdf")
    assert dataset["fold_left_deg"].attrs["units"] == "deg"
    assert dataset["hinge_upper_left_N_m"].attrs["units"] == "N m"
    assert float(dataset["bank_deg"][-1]) == pytest.approx(document["bank_end_deg"])
    assert "not a flight" in dataset.attrs["caution"]
    page = (folder / "a.html").read_text()
    assert "upper_left" in page
    assert "not a flight clearance" in page
    assert (folder / "a.svg").read_text().startswith("<?xml")


def test_the_page_plays_without_network(answered: tuple[dict[str, object], Path]) -> None:
    with browser() as running, opened(running, answered[1] / "a.html") as watched:
        page = watched.page
        page.locator("#when").fill("5")
        assert page.inner_text("#said").startswith("0.10 s: fold")
        page.select_option("#pace", "1")
        page.click("#play")
        page.get_by_role("button", name="Play").wait_for()
        assert page.inner_text("#said").startswith("0.24 s")
        assert watched.complaints == []
        assert len(watched.requests) == 1
        assert barriers(page) == []


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ((), "nothing happens"),
        (("--scenario", "none"), "no scenario 'none'"),
        (("--to", "loitr"), "no configuration 'loitr'"),
        (("--to", "-60"), "asked for by to_left_deg and to_right_deg (--to-left, --to-right)"),
        (("--to-left", "300"), "--to-left = 300; it must be less than 180 degrees"),
        (("--to-left", "5", "--at", "-2"), "--at = -2; a time can't be negative"),
        (("--to-left", "100"), "beyond what the tips can do"),
        (("--follow", "x"), "SPEED:FOLD"),
        (("--gust", "side"), "--gust-speed = 0; it must be a speed"),
        (("--lost-rotor", "a"), "no rotor 'a'"),
        (("--to-left", "5", "--scene", "a.txt"), ".html"),
    ],
)
def test_refusals(words: tuple[str, ...], said: str) -> None:
    result = motion("turnstone", *QUICK, "--duration", "0.05", *words)
    assert result.exit_code == 2
    assert said in result.stderr


def test_a_craft_without_an_actuator_is_refused() -> None:
    result = motion("plank", "--to-left", "5")
    assert result.exit_code == 2
    assert "[mass]" in result.stderr or "[actuator]" in result.stderr
