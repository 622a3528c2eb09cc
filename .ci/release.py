#!/usr/bin/env python3
"""What is released: archives that are built the same way twice, tried where nothing else is.

    python .ci/release.py build --out FOLDER
    python .ci/release.py try FOLDER [--python PROGRAM ...] [--which oldest|newest] [--keep FOLDER]
    python .ci/release.py bill FOLDER --environment VENV

build  makes wheel and source archive twice, in folders of different names, with the times of the
       last commit (SOURCE_DATE_EPOCH), and fails unless they are equal in every byte; writes
       SHA256SUMS beside them.
try    for every Python given and for the oldest and the newest dependencies: an environment of its
       own, the wheel (or, with the newest, the source archive after it), and the first steps of a
       user: a number, a dataset with picture, its repetition, a page. Prints a table.
bill   writes the bill of materials (CycloneDX, JSON) of an environment that holds the wheel.
"""

import argparse
import hashlib
import json
import os
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

PROJECT = Path(__file__).resolve().parents[1]
COARSE = ("--rows", "3", "--strips", "8")
STEPS = (
    ("--version",),
    ("point", "tideline", "--alpha", "4", "--json", *COARSE),
    ("sweep", "tideline", "--folds", "0,30", "--out", "a.nc", "--plot", "a.png", *COARSE),
    ("rerun", "a.nc"),
    ("power", "tideline", "--airspeeds", "12,14", "--fold", "0", "--no-intervals", *COARSE),
    ("view", "tideline", "-o", "a.html", *COARSE),
)
BILL = PROJECT / "docs" / "bill_of_materials.json"


def ran(*words: object, cwd: Path, **more: str) -> str:
    """Standard output of a command that must succeed; nothing of this environment leads into it."""
    clean = {name: value for name, value in os.environ.items() if not name.startswith("PYTHON")}
    done = subprocess.run(
        [str(word) for word in words], cwd=cwd, env=clean | more, capture_output=True, text=True,
        check=False,
    )  # fmt: skip
    if done.returncode:
        raise SystemExit(f"{' '.join(map(str, words))}\n{done.stdout}{done.stderr}")
    return done.stdout


def environment(folder: Path, python: str = sys.executable) -> Path:
    """The folder of programs of a new environment."""
    ran(python, "-m", "venv", folder, cwd=folder.parent)
    return folder / ("Scripts" if os.name == "nt" else "bin")


def build(out: Path) -> None:
    """Wheel and source archive, twice."""
    out.mkdir(parents=True, exist_ok=True)
    moment = ran("git", "log", "-1", "--format=%ct", cwd=PROJECT).strip()
    with tempfile.TemporaryDirectory() as made:
        folder = Path(made)
        programs = environment(folder / "tools")
        ran(programs / "pip", "install", "-q", "build", cwd=folder)
        found = []
        for name in ("one", "another place"):
            copy = folder / name
            copy.mkdir()
            listed = subprocess.run(
                ["git", "archive", "HEAD"], cwd=PROJECT, check=True, capture_output=True
            )
            subprocess.run(["tar", "-x", "-C", copy], input=listed.stdout, check=True)
            ran(programs / "python", "-m", "build", copy, "--outdir", copy / "dist",
                cwd=folder, SOURCE_DATE_EPOCH=moment)  # fmt: skip
            found.append({path.name: path.read_bytes() for path in (copy / "dist").iterdir()})
    if found[0] != found[1]:
        raise SystemExit("the archives of the two builds differ")
    lines = []
    for name, content in sorted(found[0].items()):
        (out / name).write_bytes(content)
        lines.append(f"{hashlib.sha256(content).hexdigest()}  {name}")
    (out / "SHA256SUMS").write_text("\n".join(lines) + "\n", encoding="utf-8")
    print(f"SOURCE_DATE_EPOCH={moment}\n" + "\n".join(lines))


def oldest_of(python: str) -> list[str]:
    """The oldest dependencies that a Python may have."""
    listed = ran(python, PROJECT / ".ci" / "oldest.py", "--only-list", cwd=PROJECT)
    tools = ("pytest", "hypothesis")
    return [line for line in listed.split() if not line.startswith(tools)]


def tried(python: str, which: str, folder: Path, kept: Path) -> str:
    """The first steps of a user in an environment of its own; a row of the table."""
    version = ran(python, "-c", "import platform; print(platform.python_version())", cwd=kept)
    programs = environment(kept / f"{version.strip()}-{which}", python)
    (wheel,) = folder.glob("*.whl")
    (source,) = folder.glob("*.tar.gz")
    pip = (programs / "pip", "install", "-q")
    pins = oldest_of(python) if which == "oldest" else []
    ran(*pip, *(("--only-binary", ":all:") if pins else ()), wheel, *pins, cwd=kept)
    points = [used(programs / "foldspan", kept)]
    if which == "newest":
        ran(*pip, "--no-deps", "--force-reinstall", source, cwd=kept)
        points.append(used(programs / "foldspan", kept))
    ran(programs / "pip", "check", cwd=kept)
    held = json.loads(ran(programs / "pip", "list", "--format", "json", cwd=kept))
    versions = {one["name"].lower(): one["version"] for one in held}
    named = ", ".join(f"{n} {versions[n]}" for n in ("numpy", "scipy", "numba", "xarray", "h5py"))
    return f"| {version.strip()} | {which} | {named} | {points[0]:.12f} |"


def used(foldspan: Path, kept: Path) -> float:
    """Lift coefficient of a point, once every step has ended well."""
    lift = 0.0
    with tempfile.TemporaryDirectory(dir=kept) as made:
        for words in STEPS:
            said = ran(foldspan, *words, cwd=Path(made))
            if words[0] == "point":
                lift = json.loads(said)["coefficients"]["CL"]
        empty = [path.name for path in Path(made).iterdir() if not path.stat().st_size]
        if empty or len(list(Path(made).iterdir())) != 3:
            raise SystemExit(f"not all was written: {empty}")
    return lift


def bill(folder: Path, where: Path) -> None:
    """The bill of materials of an environment, without what belongs to this machine or this day."""
    with tempfile.TemporaryDirectory() as made:
        programs = environment(Path(made) / "tools")
        ran(programs / "pip", "install", "-q", "cyclonedx-bom", cwd=folder)
        text = ran(
            programs / "cyclonedx-py", "environment", "--output-reproducible", "--of", "JSON",
            "--pyproject", PROJECT / "pyproject.toml", "--mc-type", "application", where,
            cwd=folder,
        )  # fmt: skip
    document = json.loads(text)
    document["components"] = [_plain(one) for one in document["components"] if not _tool(one)]
    BILL.write_text(json.dumps(document, indent=1, sort_keys=True) + "\n", encoding="utf-8")
    print(f"{len(document['components'])} components in {BILL.relative_to(PROJECT)}")


def _tool(component: dict[str, Any]) -> bool:
    return component["name"] in ("pip", "setuptools", "wheel", "foldspan")


def _plain(component: dict[str, Any]) -> dict[str, Any]:
    """A component without where its archive lay."""
    kept = ("bom-ref", "description", "licenses", "name", "purl", "type", "version")
    plain = {key: component[key] for key in kept if key in component}
    plain["purl"] = plain.get("purl", "").partition("?")[0]
    return plain


def main() -> None:
    """Do what was asked for."""
    parser = argparse.ArgumentParser(description=__doc__)
    tasks = parser.add_subparsers(dest="task", required=True)
    tasks.add_parser("build").add_argument("--out", type=Path, required=True)
    trial = tasks.add_parser("try")
    trial.add_argument("folder", type=Path)
    trial.add_argument("--python", action="append")
    trial.add_argument("--which", choices=("oldest", "newest"), action="append")
    trial.add_argument("--keep", type=Path, help="where the environments stay")
    billed = tasks.add_parser("bill")
    billed.add_argument("folder", type=Path)
    billed.add_argument("--environment", type=Path, required=True)
    asked = parser.parse_args()
    if asked.task == "build":
        build(asked.out)
    elif asked.task == "bill":
        bill(asked.folder, asked.environment)
    else:
        print("| Python | dependencies | among them | CL of the first point |\n| - | - | - | - |")
        with tempfile.TemporaryDirectory() as made:
            kept = asked.keep or Path(made)
            for python in asked.python or [sys.executable]:
                for which in asked.which or ("oldest", "newest"):
                    print(tried(python, which, asked.folder.resolve(), kept), flush=True)


if __name__ == "__main__":
    main()
