"""Odd surroundings change no number and end nothing: users, homes, locales, names, clocks.

No source but the promise itself. POSIX and PEP 538, 540 for what a locale does to text and names.
"""

import json
import os
import re
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from vlm.chart.kept_arrays import KeptArrays

pytestmark = pytest.mark.skipif(os.name != "posix", reason="users and locales of POSIX")

GRID = ("--rows", "2", "--strips", "6")
SWEEP = ("sweep", "craft.toml", "--fold", "0", "--alpha", "0,4", *GRID, "--out", "out.nc",
         "--plot", "out.png", "--json")  # fmt: skip
TITLE = "Möwe − ± ıİ"


@pytest.fixture
def folder(tmp_path: Path, project: Path) -> Path:
    """A folder with a craft whose title no narrow encoding has."""
    text = (project / "geometries" / "plank.toml").read_text(encoding="utf-8")
    lines = [
        f'title = "{TITLE}"' if line.startswith("title") else line for line in text.split("\n")
    ]
    (tmp_path / "craft.toml").write_text("\n".join(lines), encoding="utf-8")
    return tmp_path


def numbers(done: subprocess.CompletedProcess[str]) -> Any:
    """The numbers of a sweep that must have ended well, and said no more than what it wrote."""
    assert done.returncode == 0, done.stderr
    assert done.stderr == "wrote out.nc and out.png\n"
    return json.loads(done.stdout)


@pytest.fixture(scope="module")
def plain(project: Path, run_foldspan, tmp_path_factory) -> Any:
    """What the sweep gives in usual surroundings."""
    place = tmp_path_factory.mktemp("plain")
    folder_text = (project / "geometries" / "plank.toml").read_text(encoding="utf-8")
    (place / "craft.toml").write_text(folder_text, encoding="utf-8")
    return numbers(run_foldspan(*SWEEP, cwd=place))


def same_numbers(one: Any, two: Any) -> bool:
    """All but the title and the file's name."""
    return all(one[part] == two[part] for part in ("coordinates", "variables"))


def turkish(where: Path) -> dict[str, str]:
    """A Turkish locale of one byte a letter: i and I are no pair, 1,5 is a number."""
    if shutil.which("localedef") is None:
        pytest.skip("needs localedef")
    made = subprocess.run(
        ["localedef", "-i", "tr_TR", "-f", "ISO-8859-9", where / "tr_TR.ISO-8859-9"],
        capture_output=True,
    )
    if not (where / "tr_TR.ISO-8859-9").exists():
        pytest.skip(f"needs the sources of locales: {made.stderr!r}")
    return {"LOCPATH": str(where), "LC_ALL": "tr_TR.ISO-8859-9", "LANG": "tr_TR.ISO-8859-9"}


@pytest.mark.parametrize("locale", ["C", "tr_TR"])
def test_a_locale_changes_no_number(
    locale: str, folder: Path, plain: Any, run_foldspan, tmp_path_factory
) -> None:
    """Text of the file and of messages is UTF-8 or escaped, whatever the terminal's encoding is."""
    if locale == "C":
        words = {"LC_ALL": "C", "PYTHONCOERCECLOCALE": "0", "PYTHONUTF8": "0"}
    else:
        words = turkish(tmp_path_factory.mktemp("locales"))
    assert same_numbers(numbers(run_foldspan(*SWEEP, cwd=folder, **words)), plain)
    done = run_foldspan("check", "craft.toml", cwd=folder, **words)
    assert done.returncode == 0, done.stderr
    refused = run_foldspan("check", "craft.toml", "--fold", "ı", cwd=folder, **words)
    assert refused.returncode == 2
    assert "Traceback" not in refused.stderr


@pytest.mark.skipif(sys.platform == "darwin", reason="names there are text")
def test_a_name_that_is_no_text(folder: Path, plain: Any, run_foldspan) -> None:
    """Latin-1 bytes as a file's name, in and out; the numbers carry it and repeat."""
    name = os.fsdecode(b"caf\xe9.toml")
    (folder / "craft.toml").rename(folder / name)
    out = os.fsdecode(b"r\xe9sultat.nc")
    words = [name if w == "craft.toml" else out if w == "out.nc" else w for w in SWEEP]
    done = run_foldspan(*words, cwd=folder)
    assert done.returncode == 0, done.stderr
    assert same_numbers(json.loads(done.stdout), plain)
    again = run_foldspan("rerun", out, cwd=folder)
    assert again.returncode == 0, again.stderr


@pytest.mark.parametrize("home", [pytest.param("nowhere", marks=pytest.mark.slow), "a file"])
def test_without_a_home_it_works_and_says_nothing(
    home: str, folder: Path, plain: Any, run_foldspan
) -> None:
    """Root may write into any folder, so a file stands where the home would be."""
    place = folder / "home"
    if home == "a file":
        place.write_text("")
    nowhere = {"HOME": str(place / "none"), "XDG_CACHE_HOME": "", "XDG_CONFIG_HOME": ""}
    assert same_numbers(numbers(run_foldspan(*SWEEP, cwd=folder, **nowhere)), plain)


def as_nobody(python: str, words: list[str], cwd: Path, environment: dict[str, str]):
    """Run Python as a user who owns nothing."""
    return subprocess.run(
        [python, "-P", *words], cwd=cwd, env=environment, text=True, capture_output=True,
        user=65534, group=65534, extra_groups=[],
    )  # fmt: skip


@pytest.mark.slow
def test_a_user_who_may_write_nowhere_gets_numbers(plain: Any, project: Path) -> None:
    """Root's installation, no home: the kernel is compiled at every command, and it says so."""
    if os.geteuid() != 0:
        pytest.skip("needs root, to become nobody")
    import tempfile

    site = next(path for path in sys.path if path.endswith("site-packages"))
    own = f"python{sys.version_info[0]}.{sys.version_info[1]}"
    with tempfile.TemporaryDirectory() as made:
        folder = Path(made)
        folder.chmod(0o755)
        shutil.copytree(project / "vlm", folder / "installed" / "vlm",
                        ignore=shutil.ignore_patterns("__pycache__"))  # fmt: skip
        shutil.copytree(project / "geometries", folder / "installed" / "geometries")
        environment = {
            "PATH": os.environ["PATH"], "HOME": "/nonexistent", "LC_ALL": "C.UTF-8",
            "PYTHONPATH": f"{folder / 'installed'}{os.pathsep}{site}",
        }  # fmt: skip
        for python in (sys.executable, f"/usr/bin/{own}"):
            try:
                able = as_nobody(python, ["-c", "import vlm, numba"], folder, environment)
            except OSError:
                continue
            if able.returncode == 0:
                break
        else:
            pytest.skip("no interpreter that others may run")
        work = folder / "work"
        work.mkdir()
        os.chown(work, 65534, 65534)
        words = [("plank" if word == "craft.toml" else word) for word in SWEEP]
        done = as_nobody(python, ["-m", "vlm", *words], work, environment)
        assert done.returncode == 0, done.stderr
        told, *progress, wrote = done.stderr.splitlines()
        assert told.startswith("compiling the kernel (about half a minute, at every command")
        assert all(line.endswith(" so far") for line in progress)
        assert wrote == "wrote out.nc and out.png"
        assert same_numbers(json.loads(done.stdout), plain)


def test_nothing_hangs_on_the_time_of_day(project: Path) -> None:
    """A clock that jumps can change nothing where nobody looks at it.

    What takes a time takes it from a clock that only goes forward (time.perf_counter). The day on
    which a report was made is printed, and nothing hangs on it. Of what is kept between commands,
    what was used longest ago goes first (below).
    """
    clock = re.compile(r"\btime\.(time|time_ns|localtime|gmtime|ctime)\b|date(time)?\.(now|today)\b"
                       r"|utcnow|st_mtime|getmtime")  # fmt: skip
    dated = {project / "vlm/show/report/page.py", project / "vlm/chart/kept_arrays.py"}
    for path in set((project / "vlm").rglob("*.py")) - dated:
        found = clock.search(path.read_text(encoding="utf-8"))
        assert found is None, f"{path}: {found}"
    assert clock.search("x = time.time()")


@pytest.mark.parametrize("moment", [0, 4_000_000_000])
def test_a_clock_that_jumped_costs_what_was_kept_at_most(moment: int, tmp_path: Path) -> None:
    """Kept in 1970 or in 2096: it is read, the folder stays bounded, nothing else goes wrong."""
    kept = KeptArrays(tmp_path, 10_000)
    kept.keep("a", {"x": np.arange(300.0)})
    os.utime(tmp_path / "a.npz", (moment, moment))
    found = kept.load("a", {"x": (300,)})
    assert found is not None
    assert np.array_equal(found[0]["x"], np.arange(300.0))
    for name in "bcdefg":
        os.utime(tmp_path / "a.npz", (moment, moment)) if (tmp_path / "a.npz").exists() else None
        kept.keep(name, {"x": np.arange(300.0)})
    assert sum(path.stat().st_size for path in tmp_path.glob("*.npz")) <= 10_000
    assert kept.load("g", {"x": (300,)}) is not None


FILES = {
    "motion": ("motion", "craft.toml", "--scenario", "side gust", "--duration", "0.1", "--no-error",
               "--json", "-o", "out.nc", *GRID),
    "export": ("export", "craft.toml", "--trims", "14:0", "--fold-range=-2:2", "-o", "out.csv",
               *GRID),
    "compare": ("compare", "craft.toml", "--fold", "0", "--fold", "10", "--no-power", "--json",
                "--plot", "out.svg", *GRID),
}  # fmt: skip


@pytest.mark.slow
@pytest.mark.parametrize("command", FILES)
def test_odd_surroundings_change_no_byte_of_what_is_written(
    command: str, tmp_path: Path, project: Path, run_foldspan
) -> None:
    """Locales, no home, a name that is no text: the same words and files, byte for byte."""
    text = (project / "geometries" / "tideline.toml").read_text(encoding="utf-8")
    c = {"LC_ALL": "C", "PYTHONCOERCECLOCALE": "0", "PYTHONUTF8": "0"}
    nowhere = {"HOME": "/nonexistent", "XDG_CACHE_HOME": "", "XDG_CONFIG_HOME": ""}
    locales = tmp_path / "locales"
    locales.mkdir()
    found = []
    for place, more in (
        ("plain", {}), ("C", c), ("Turkish", turkish(locales)), ("no home", nowhere),
        (os.fsdecode(b"caf\xe9"), {}),
    ):  # fmt: skip
        folder = tmp_path / place
        folder.mkdir()
        (folder / "craft.toml").write_text(text, encoding="utf-8")
        done = run_foldspan(*FILES[command], cwd=folder, **more)
        assert done.returncode == 0, (place, done.stderr)
        written = {p.name: p.read_bytes() for p in folder.iterdir() if p.name != "craft.toml"}
        assert len(written) == 1
        found.append((done.stdout, written))
    for place in found[1:]:
        assert place == found[0]
