"""Input at the edge of what can be flown, read or written: a result, or one clear message.

No source but the promise itself. Commands run on a coarse grid, with warnings as errors.
"""

import json
import os
import subprocess
from pathlib import Path
from typing import Any

import pytest
from mutations import short_log
from test_fuzz import checked_ending, no_number
from thin_craft import thin_file

from vlm.cli.main import main
from vlm.errors import InputRefused
from vlm.study.sweep.plan import SweepPlan, as_document, plan_from

GRID = ("--rows", "2", "--strips", "6")
POINT = ("--alpha", "4", "--no-errors", "--json", *GRID)
PLANK = """\
title = "Invented"
[upper]
span_m = 1.2
root_chord_m = 0.2
end_chord_m = 0.2
"""
TWO = f"""{PLANK}
[lower]
span_m = 1.2
root_chord_m = 0.2
end_chord_m = 0.2
[arrangement]
gap_m = 0.3
"""


def ending(words: list[str], capsys: Any) -> tuple[int, str, str]:
    """Run a command and check how it ended."""
    status = main(words)
    out, err = capsys.readouterr()
    checked_ending(tuple(words), status, out, err)
    return status, out, err


def refused(words: list[str], capsys: Any, *parts: str) -> None:
    """A command must be refused in one line that holds the given words."""
    status, _, err = ending(words, capsys)
    assert status == 2, err
    assert err.count("\n") == 1, err
    for part in parts:
        assert part in err


def result(words: list[str], capsys: Any) -> dict[str, Any]:
    """The numbers of a command that must succeed."""
    status, out, err = ending(words, capsys)
    assert status == 0, err
    found: dict[str, Any] = json.loads(out, parse_constant=no_number)
    return found


# --- numbers at the edge ---


@pytest.mark.parametrize("size", ["1e-6", "1e6"])
def test_a_span_of_a_micron_or_a_thousand_kilometres(size: str, capsys: Any) -> None:
    found = result(["point", "plank", "--set", f"upper.span_m={size}", *POINT], capsys)
    # Lift slope of a wing much shorter than its chord goes to zero, of a long one to the
    # section's 2 pi (lifting line): 2 pi sin(4 deg) = 0.438.
    lift = found["coefficients"]["CL"]
    assert lift < 1e-4 if size == "1e-6" else 0.40 < lift < 0.46


@pytest.mark.parametrize("scale", [1e-6, 1e6])
def test_the_same_wing_at_any_scale_has_the_same_coefficients(scale: float, capsys: Any) -> None:
    plain = result(["point", "plank", *POINT], capsys)["coefficients"]
    sets = [("span_m", 1.2), ("root_chord_m", 0.2), ("end_chord_m", 0.2)]
    words = [word for key, v in sets for word in ("--set", f"upper.{key}={v * scale!r}")]
    scaled = result(["point", "plank", *words, *POINT], capsys)["coefficients"]
    for name in ("CL", "CDi", "span_efficiency"):
        assert scaled[name] == pytest.approx(plain[name], rel=1e-9)


@pytest.mark.parametrize("chord", ["0", "1e-300", "1e-9", "1e-4"])
def test_a_wing_that_tapers_to_nothing(chord: str, capsys: Any) -> None:
    status, out, _ = ending(
        ["point", "plank", "--set", f"upper.end_chord_m={chord}", *POINT], capsys
    )
    if status == 0:
        # A triangle of aspect ratio 12 lies near the plank's lift slope; a wild number does not.
        assert 0.25 < json.loads(out)["coefficients"]["CL"] < 0.45


@pytest.mark.parametrize("fold", ["-90", "120", "0", "179.99", "-179.99", "180", "-180", "120.001"])
def test_folds_at_and_beyond_their_limits(fold: str, capsys: Any) -> None:
    ending(["point", "tideline", f"--fold={fold}", *POINT], capsys)
    ending(["check", "tideline", f"--fold={fold}", "--json"], capsys)


@pytest.mark.parametrize("gap", ["0", "1e-300", "1e-12", "1e-6", "1e-3", "-0.3", "1e6"])
def test_gaps_near_zero_and_wings_that_coincide(gap: str, tmp_path: Path, capsys: Any) -> None:
    path = tmp_path / "two.toml"
    path.write_text(TWO)
    status, out, _ = ending(
        ["point", str(path), "--set", f"arrangement.gap_m={gap}", *POINT], capsys
    )
    if float(gap) <= 0.0:
        assert status == 2
    if status == 0:
        # Two wings lift no more than the two alone would, whatever lies between them.
        assert 0.0 < json.loads(out)["coefficients"]["CL"] < 0.40


def test_a_gap_of_zero_with_the_lower_wing_far_behind(tmp_path: Path, capsys: Any) -> None:
    path = tmp_path / "tandem.toml"
    path.write_text(TWO)
    for gap in ("0", "1e-9"):
        words = ["--set", f"arrangement.gap_m={gap}", "--set", "arrangement.stagger_m=0.8"]
        ending(["point", str(path), *words, *POINT], capsys)


@pytest.mark.parametrize("sweep", ["85", "-85", "89.9", "90", "-90", "360"])
def test_sweep_up_to_a_right_angle(sweep: str, capsys: Any) -> None:
    for key in (
        "upper.sweep_deg",
        "upper.dihedral_deg",
        "upper.incidence_deg",
        "upper.washout_deg",
    ):
        ending(["point", "plank", "--set", f"{key}={sweep}", *POINT], capsys)
    for key in ("upper.tips.flare_deg", "upper.tips.sweep_deg"):
        ending(["point", "tideline", "--fold", "20", "--set", f"{key}={sweep}", *POINT], capsys)


@pytest.mark.parametrize("alpha", ["180", "-180", "90", "-90", "180.001", "1e300", "nan", "inf"])
def test_any_angle_of_attack(alpha: str, capsys: Any) -> None:
    words = ["point", "tideline", f"--alpha={alpha}", "--no-errors", "--json", *GRID]
    status, _, _ = ending(words, capsys)
    assert status == (0 if alpha in ("180", "-180", "90", "-90") else 2)
    ending(["point", "tideline", f"--alpha={alpha}", "--no-errors", *GRID], capsys)


@pytest.mark.parametrize("option", ["--density", "--airspeed"])
@pytest.mark.parametrize("value", ["0", "-1", "1e-300", "5e-324", "1e-6", "nan", "inf", "1e308"])
def test_air_that_is_hardly_there(option: str, value: str, capsys: Any) -> None:
    status, _, err = ending(["point", "plank", f"{option}={value}", *POINT], capsys)
    assert status == (0 if value == "1e-6" else 2), err


# --- files that are odd ---


@pytest.mark.parametrize(
    "text",
    [
        "a = " + "[" * 100_000,
        "a = " + "[" * 500 + "]" * 500,
        "a = " + "{a=" * 500 + "1" + "}" * 500,
        ".".join(["a"] * 5000) + " = 1",
        "[" + ".".join(["upper"] * 3000) + "]",
        "title = " + '"' * 100_001,
    ],
    ids=["open lists", "lists", "tables", "dotted key", "dotted table", "quotation marks"],
)
def test_deep_nesting(text: str, tmp_path: Path, capsys: Any) -> None:
    path = tmp_path / "deep.toml"
    path.write_text(text)
    refused(["check", str(path)], capsys, "deep.toml")


@pytest.mark.parametrize(
    "encoding", ["utf-16", "utf-16-le", "utf-32", "latin-1", "cp1252", "utf-7"]
)
def test_odd_encodings(encoding: str, tmp_path: Path, capsys: Any) -> None:
    path = tmp_path / "odd.toml"
    path.write_bytes(PLANK.replace("Invented", "Ünvented—").encode(encoding, "replace"))
    status, _, err = ending(["check", str(path)], capsys)
    # UTF-7 is ASCII to every reader: such a title is odd, but it is one.
    assert status == (0 if encoding == "utf-7" else 2)
    assert encoding == "utf-7" or "odd.toml" in err


def test_a_byte_order_mark_and_foreign_line_ends_change_nothing(
    tmp_path: Path, capsys: Any
) -> None:
    path = tmp_path / "plain.toml"
    path.write_text(PLANK)
    plain = result(["point", str(path), *POINT], capsys)
    path.write_bytes(b"\xef\xbb\xbf" + PLANK.replace("\n", "\r\n").encode())
    assert result(["point", str(path), *POINT], capsys)["coefficients"] == plain["coefficients"]


@pytest.mark.parametrize("content", [b"", b"\x00" * 100, b"\n" * 100_000, b"\x7fELF"])
def test_files_that_are_no_text_at_all(content: bytes, tmp_path: Path, capsys: Any) -> None:
    path = tmp_path / "no.toml"
    path.write_bytes(content)
    # An empty file is valid TOML: one line for each block that it lacks.
    status, _, err = ending(["point", str(path), *POINT], capsys)
    assert status == 2
    assert "no.toml" in err
    path = tmp_path / "no.csv"
    path.write_bytes(content)
    refused(["log", "tideline", str(path), "--no-prediction"], capsys, "no.csv")
    path = tmp_path / "no.nc"
    path.write_bytes(content)
    refused(["rerun", str(path)], capsys, "no.nc")


def test_a_file_too_large_is_refused_before_it_is_parsed(tmp_path: Path, capsys: Any) -> None:
    path = tmp_path / "large.toml"
    with path.open("wb") as file:
        file.truncate(10**12)  # holes: no disk is used
    refused(["check", str(path)], capsys, "large.toml: the file is larger than 20 MB")


# --- names and places that are odd ---


@pytest.mark.parametrize(
    "name",
    ["with space and quote'\" é漢字 semi;colon", "-dash", ".hidden", "a" * 200,
     "a%sb $HOME tab\t new\nline back\\slash", "* [a] #x <b> {0}"],
)  # fmt: skip
def test_odd_names_of_folders_and_files(name: str, tmp_path: Path, capsys: Any) -> None:
    folder = tmp_path / name
    folder.mkdir()
    path = folder / f"{name}.toml"
    path.write_text(PLANK)
    words = ["sweep", str(path), "--fold", "0", "--out", str(folder / f"{name}.nc"), *GRID]
    status, _, err = ending(words, capsys)
    assert status == 0, err
    # Neither the store of unfinished chunks nor a partial file is left.
    assert sorted(p.name for p in folder.iterdir()) == sorted([f"{name}.nc", f"{name}.toml"])
    status, _, err = ending(["rerun", str(folder / f"{name}.nc"), "--json"], capsys)
    assert status == 0, err


def test_paths_through_the_folder_above(tmp_path: Path, capsys: Any, monkeypatch: Any) -> None:
    (tmp_path / "a").mkdir()
    (tmp_path / "plank.toml").write_text(PLANK)
    monkeypatch.chdir(tmp_path / "a")
    result(["point", "../plank.toml", *POINT], capsys)
    words = ["sweep", "../plank.toml", "--fold", "0", "--out", "../a/../out.csv", *GRID]
    assert ending(words, capsys)[0] == 0
    assert (tmp_path / "out.csv").is_file()
    refused(["point", "..", *POINT], capsys, "folder")
    refused(["point", "../../../../../nothing.toml", *POINT], capsys, "no such")
    refused(["point", "a" * 5000, *POINT], capsys)
    refused(["point", "a\x00b", *POINT], capsys)
    refused(["sweep", "plank", "--fold", "0", "--out", "a\x00b.nc", *GRID], capsys)


@pytest.mark.parametrize("out", ["a" * 300 + ".nc", ".", "", "/", "/dev/full", "none/out.nc"])
def test_outputs_that_cannot_be(out: str, tmp_path: Path, capsys: Any, monkeypatch: Any) -> None:
    monkeypatch.chdir(tmp_path)
    status, _, _ = ending(["sweep", "plank", "--fold", "0", "--out", out, *GRID], capsys)
    assert status == 2
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    "camber", ["../line.csv", "/dev/null", "/dev/zero", ".", "/etc/passwd", "x.csv"]
)
def test_a_mean_line_from_an_odd_place(camber: str, tmp_path: Path, capsys: Any) -> None:
    path = tmp_path / "c.toml"
    path.write_text(f'{PLANK}camber = "{camber}"\n')
    refused(["point", str(path), *POINT], capsys, "upper.camber")


def test_links(tmp_path: Path, capsys: Any) -> None:
    good = tmp_path / "good.toml"
    good.write_text(PLANK)
    (tmp_path / "link.toml").symlink_to(good)
    result(["point", str(tmp_path / "link.toml"), *POINT], capsys)
    (tmp_path / "loop.toml").symlink_to(tmp_path / "loop.toml")
    refused(["point", str(tmp_path / "loop.toml"), *POINT], capsys, "loop.toml")
    (tmp_path / "gone.toml").symlink_to(tmp_path / "nowhere.toml")
    refused(["point", str(tmp_path / "gone.toml"), *POINT], capsys, "gone.toml")


def test_an_output_that_is_a_link_is_followed_and_the_link_stays(
    tmp_path: Path, capsys: Any
) -> None:
    kept = tmp_path / "kept.nc"
    kept.write_bytes(b"an earlier result")
    (tmp_path / "out.nc").symlink_to(kept)
    words = ["sweep", "plank", "--fold", "0", "--out", str(tmp_path / "out.nc"), *GRID]
    assert ending(words, capsys)[0] == 0
    assert (tmp_path / "out.nc").is_symlink()
    assert kept.read_bytes().startswith(b"\x89HDF")


LINE = "x_c,z_c\n0.0,0.0\n0.5,0.02\n1.0,0.0\n"
READ_AND_WRITTEN = {
    "a mean line": ["sweep", "c.toml", "--fold", "0", "--out", "line.csv", *GRID],
    "a mean line by a link": ["sweep", "c.toml", "--fold", "0", "--out", "link.csv", *GRID],
    "the craft by its twin name": ["design", "c.toml", "--key", "upper.span_m=1:1.4", "--goal",
                                   "span efficiency", "-o", "hard.toml"],
    "a mission": ["design", "tideline", "--key", "upper.span_m=0.8:1", "--goal", "energy",
                  "--legs", "legs.toml", "-o", "legs.toml"],
    "a log": ["report", "tideline", "--log", "page.html", "-o", "page.html"],
}  # fmt: skip


@pytest.mark.parametrize("words", READ_AND_WRITTEN.values(), ids=READ_AND_WRITTEN)
def test_no_output_replaces_what_the_command_reads(
    words: list[str], tmp_path: Path, project: Path, capsys: Any, monkeypatch: Any
) -> None:
    monkeypatch.chdir(tmp_path)
    legs = project / "geometries" / "missions" / "long_transit.toml"
    (tmp_path / "c.toml").write_text(f'{PLANK}camber = "line.csv"\n')
    (tmp_path / "line.csv").write_text(LINE)
    (tmp_path / "link.csv").symlink_to("line.csv")
    (tmp_path / "hard.toml").hardlink_to(tmp_path / "c.toml")
    (tmp_path / "legs.toml").write_bytes(legs.read_bytes())
    (tmp_path / "page.html").write_text("t,v\n0,1\n")
    before = {path.name: path.read_bytes() for path in tmp_path.iterdir()}
    refused(words, capsys, "the command reads this file, name another")
    assert {path.name: path.read_bytes() for path in tmp_path.iterdir()} == before


@pytest.mark.parametrize("kind", ["pipe", "device"])
@pytest.mark.parametrize("option", ["--out", "--plot"])
def test_outputs_that_are_no_files_stay(
    kind: str, option: str, tmp_path: Path, capsys: Any, monkeypatch: Any
) -> None:
    monkeypatch.chdir(tmp_path)
    name = "out.nc" if option == "--out" else "out.png"
    if kind == "pipe":
        os.mkfifo(name)
    else:
        (tmp_path / name).symlink_to("/dev/null")
    words = ["sweep", "plank", "--fold", "0", *GRID]
    words += ["--out", "out.nc"] if option == "--out" else ["--out", "a.nc", "--plot", "out.png"]
    refused(words, capsys, "only a regular file is replaced")
    assert [path.name for path in tmp_path.iterdir()] == [name]


def test_tables_and_logs_that_are_pipes_do_not_hang(
    tmp_path: Path, capsys: Any, monkeypatch: Any
) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "c.toml").write_text(f'{PLANK}camber = "line.csv"\n')
    for name in ("line.csv", "sweep.nc", "log.csv", "craft.toml"):
        os.mkfifo(name)
    for words in (
        ["point", "c.toml", *POINT],
        ["point", "craft.toml", *POINT],
        ["rerun", "sweep.nc"],
        ["log", "tideline", "log.csv", "--no-prediction"],
    ):
        status, _, err = ending(words, capsys)
        assert status == 2, err


def test_two_outputs_in_one_place_are_refused(
    tmp_path: Path, capsys: Any, monkeypatch: Any
) -> None:
    monkeypatch.chdir(tmp_path)
    words = ["schedule", "tideline", "--csv", "a.png", "--plot", "./a.png"]
    refused(words, capsys, "writes there too")
    assert list(tmp_path.iterdir()) == []


# --- rights, disks and devices ---

ROOT = pytest.mark.skipif(os.name == "posix" and os.geteuid() == 0, reason="root may do anything")


@ROOT
def test_a_file_without_the_right_to_read(tmp_path: Path, capsys: Any) -> None:
    path = tmp_path / "closed.toml"
    path.write_text(PLANK)
    path.chmod(0)
    refused(["point", str(path), *POINT], capsys, "closed.toml", "can't be read")


@ROOT
def test_a_folder_without_the_right_to_write(tmp_path: Path, capsys: Any) -> None:
    folder = tmp_path / "closed"
    folder.mkdir()
    folder.chmod(0o555)
    try:
        words = ["sweep", "plank", "--fold", "0", "--out", str(folder / "out.nc"), *GRID]
        refused(words, capsys, "Permission denied")
        assert list(folder.iterdir()) == []
    finally:
        folder.chmod(0o755)


def test_a_full_disk_leaves_no_half_file(tmp_path: Path, capsys: Any, monkeypatch: Any) -> None:
    """The disk is full from the first write on; the file that stood there stays."""
    import errno

    out = tmp_path / "out.csv"
    out.write_text("earlier result\n")

    def full(descriptor: int) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    monkeypatch.setattr("vlm.cli.main._silence_output", lambda: None)
    status, _, err = ending(["sweep", "plank", "--fold", "0", "--out", str(out), *GRID], capsys)
    assert status == 3
    assert "No space left on device" in err
    assert out.read_text() == "earlier result\n"
    assert not [p for p in tmp_path.rglob("*") if "partial" in p.name]


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no such device here")
def test_a_full_device_behind_standard_output(command_environment: Any) -> None:
    words = "foldspan point plank --alpha 4 --no-errors --rows 2 --strips 6 --json > /dev/full"
    run = subprocess.run(
        ["bash", "-c", words], env=dict(command_environment), capture_output=True, text=True
    )
    assert run.returncode == 3
    # A new installation compiles first, and says so.
    assert [line for line in run.stderr.splitlines() if not line.startswith("compiling")] == [
        "foldspan: No space left on device"
    ]


# --- what a saved sweep may ask for ---


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"airspeed": 1e300}, "airspeed = 1e+300"),
        ({"betas_deg": [None]}, "None is no finite number"),
        ({"wake": "text"}, "'text', where stream, craft, relaxed are allowed"),
        ({"grid": []}, "Grid needs chord_law, rows, span_law, strips and nothing else"),
        ({"odd": 1}, "and nothing else"),
    ],
)
def test_a_plan_that_no_sweep_writes_is_refused(change: dict[str, Any], words: str) -> None:
    plan = as_document(SweepPlan((0.0,))) | change
    with pytest.raises(InputRefused, match="the plan is none that a sweep writes") as told:
        plan_from(plan)
    assert words in str(told.value)


def test_a_grid_that_fills_the_memory_is_refused() -> None:
    plan = as_document(SweepPlan((0.0,)))
    plan["grid"]["rows"] = 10**9
    with pytest.raises(InputRefused, match="1000000000, where 1 to 100 are allowed"):
        plan_from(plan)


def test_a_log_whose_rotor_speeds_are_all_missing(
    tmp_path: Path, capsys: Any, monkeypatch: Any
) -> None:
    """Found by mutation 9531: the median of nothing is no number, and no library warns of it."""
    rows = [line.split(",") for line in short_log().decode().splitlines()]
    start = next(i for i, row in enumerate(rows) if "rpm" in row)
    place = rows[start].index("rpm")
    for row in rows[start + 1 :]:
        row[place] = "NaN"
    (tmp_path / "flight.csv").write_text("\n".join(map(",".join, rows)) + "\n")
    monkeypatch.chdir(tmp_path)
    assert ending(["log", "tideline", "flight.csv", "--no-prediction"], capsys)[0] in (0, 2)


@pytest.mark.usefixtures("answers_kept")
def test_a_hinge_whose_error_is_not_known_has_its_worst_moment(tmp_path: Path, capsys: Any) -> None:
    """Found by grammar: of less than 8 strips no half-width is known, and nothing rests on it."""
    craft = thin_file("tideline", tmp_path)
    words = ["hinge", craft, "--folds", "0", "--airspeeds", "12", "--load-factors", "2"]
    words += ["--rows", "2", "--strips", "4"]
    document = result([*words, "--json"], capsys)
    (row,) = document["moments"]
    worst = {name: abs(hinge["worst_N_m"]) for name, hinge in row["hinges"].items()}
    assert worst[row["most_loaded_hinge"]] == max(worst.values())
    assert {hinge["half_width_N_m"] for hinge in row["hinges"].values()} == {None}
    assert f"{max(worst.values()):#.3g}" in ending(words, capsys)[1]


def test_a_search_that_allows_nothing_refuses_no_other_one(
    tmp_path: Path, capsys: Any, monkeypatch: Any
) -> None:
    """It is over, so what it kept beside its output is of use to nobody."""
    monkeypatch.chdir(tmp_path)
    words = ["design", "tideline", "--goal", "induced drag", "--airspeed", "14", "--starts", "1",
             "--most", "5", "-o", "best.toml", "--key", "arrangement.gap_m=0.34:0.40",
             *GRID]  # fmt: skip
    assert ending([*words, "--lift", "400"], capsys)[0] == 3
    assert list(tmp_path.iterdir()) == []
    assert ending([*words, "--lift", "14"], capsys)[0] == 0
    assert [path.name for path in tmp_path.iterdir()] == ["best.toml"]
