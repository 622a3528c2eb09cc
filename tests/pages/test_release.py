"""What is released: a wheel and a source archive that install and work where nothing else is."""

import json
import os
import subprocess
import sys
import tarfile
import zipfile
from pathlib import Path

import pytest

import vlm

pytestmark = pytest.mark.slow


def ran(*words: object, cwd: Path) -> str:
    """Standard output of a command; nothing of this environment's packages leads into it."""
    clean = {name: value for name, value in os.environ.items() if not name.startswith("PYTHON")}
    done = subprocess.run(
        [str(word) for word in words], cwd=cwd, env=clean, capture_output=True, text=True
    )
    assert done.returncode == 0, done.stderr
    return done.stdout


def new_environment(folder: Path) -> Path:
    """A virtual environment; its folder of programs."""
    ran(sys.executable, "-m", "venv", folder, cwd=folder.parent)
    return folder / "bin"


def package_files(project: Path) -> set[str]:
    """Files that belong into an installed package."""
    kept = {
        str(path.relative_to(project))
        for path in (project / "vlm").rglob("*")
        if path.is_file() and "__pycache__" not in path.parts
    }
    craft = (project / "geometries").rglob("*")
    return kept | {f"vlm/{path.relative_to(project)}" for path in craft if path.is_file()}


@pytest.fixture(scope="module")
def archives(project, tmp_path_factory) -> tuple[Path, Path]:
    """The wheel and the source archive; the wheel is built from the archive."""
    folder = tmp_path_factory.mktemp("release")
    programs = new_environment(folder / "builder")
    ran(programs / "pip", "install", "-q", "build", cwd=folder)
    ran(programs / "python", "-m", "build", project, "--outdir", folder / "dist", cwd=folder)
    (wheel,) = (folder / "dist").glob("*.whl")
    (source,) = (folder / "dist").glob("*.tar.gz")
    return wheel, source


def test_the_wheel_holds_the_package_whole(project, archives) -> None:
    with zipfile.ZipFile(archives[0]) as wheel:
        packed = {name for name in wheel.namelist() if name.startswith("vlm/")}
    assert packed == package_files(project)


def test_the_source_archive_holds_tests_docs_and_benchmarks(archives) -> None:
    with tarfile.open(archives[1]) as source:
        folders = {name.split("/")[1] for name in source.getnames() if "/" in name}
    assert {"vlm", "geometries", "tests", "docs", "benchmarks", "README.md"} <= folders


def test_they_install_and_work_where_nothing_else_is(archives, tmp_path: Path) -> None:
    """The wheel with all that it needs; then the source archive in its place."""
    programs = new_environment(tmp_path / "user")
    pip = (programs / "pip", "install", "-q")
    for words in ((archives[0],), ("--no-deps", "--force-reinstall", archives[1])):
        ran(*pip, *words, cwd=tmp_path)
        ran(programs / "pip", "check", cwd=tmp_path)
        used(programs / "foldspan", tmp_path)


def used(foldspan: Path, folder: Path) -> None:
    """A number, a dataset, a picture and a page from an installed command."""
    assert ran(foldspan, "--version", cwd=folder).startswith(f"foldspan {vlm.__version__}\n")
    point = json.loads(ran(foldspan, "point", "tideline", "--alpha", 4, "--json", cwd=folder))
    assert 0.3 < point["coefficients"]["CL"] < 0.6
    coarse = ("--rows", 3, "--strips", 8)
    ran(foldspan, "sweep", "tideline", "--fold", "0,30", "--out", "a.nc", "--plot", "a.png",
        *coarse, cwd=folder)  # fmt: skip
    ran(foldspan, "report", "plank", "--out", "a.html", *coarse, cwd=folder)
    for name in ("a.nc", "a.png", "a.html"):
        assert (folder / name).stat().st_size > 0
        (folder / name).unlink()
