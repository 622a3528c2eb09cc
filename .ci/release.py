#!/usr/bin/env python3
"""What is released: archives that are built the same way twice, tried where nothing else is.

    python .ci/release.py build --out FOLDER
    python .ci/release.py try FOLDER [--python PROGRAM ...] [--which oldest|newest] [--keep FOLDER]
    python .ci/release.py bill

build  makes wheel and source archive twice, in folders of different names, with the times of the
       last commit (SOURCE_DATE_EPOCH), and fails unless they are equal in every byte; writes
       SHA256SUMS beside them.
try    for every Python given and for the oldest and the newest dependencies: an environment of its
       own, the wheel (or, with the newest, the source archive after it), and the first steps of a
       user: a number, a dataset with picture, its repetition, a page. Prints a table.
bill   writes the bill of materials (CycloneDX, JSON) of what the wheel needs, in the versions that
       are installed beside the Python that runs this.
"""

import argparse
import hashlib
import json
import os
import re
import subprocess
import sys
import tempfile
import tomllib
from importlib import metadata
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
    tools = ("pytest", "hypothesis", "jsonschema")
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


def bill() -> None:
    """The bill of materials of what the wheel and its extras for users need.

    In the versions that are installed beside the Python that runs this; it says nothing of the
    machine or the day.
    """
    project = tomllib.loads((PROJECT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    extras = project["optional-dependencies"]
    wanted = [*project["dependencies"], *extras["view"], *extras["cluster"]]
    needs: dict[str, list[str]] = {}
    left = [name for name in map(_needed, wanted) if name]
    first = sorted(set(left))
    while left:
        name = left.pop()
        if name not in needs:
            required = metadata.distribution(name).requires or ()
            needs[name] = sorted({one for one in map(_needed, required) if one})
            left += needs[name]
    source = (PROJECT / "vlm" / "__init__.py").read_text(encoding="utf-8")
    version = re.findall(r'__version__ = "(.+?)"', source)[0]
    ours = f"foldspan@{version}"
    references = {name: f"{name}@{metadata.version(name)}" for name in needs}
    document = {
        "$schema": "http://cyclonedx.org/schema/bom-1.6.schema.json",
        "bomFormat": "CycloneDX",
        "specVersion": "1.6",
        "version": 1,
        "metadata": {
            "component": {
                "type": "application", "bom-ref": ours, "name": "foldspan", "version": version,
                "licenses": [{"license": {"id": project["license"]}}],
            }
        },
        "components": [_component(name, references[name]) for name in sorted(needs)],
        "dependencies": [
            {"ref": ours, "dependsOn": [references[name] for name in first]},
            *(
                {"ref": references[name], "dependsOn": [references[n] for n in needs[name]]}
                for name in sorted(needs)
            ),
        ],
    }  # fmt: skip
    BILL.write_text(json.dumps(document, indent=1) + "\n", encoding="utf-8")
    print(f"{len(needs)} components in {BILL.relative_to(PROJECT)}")


def _needed(requirement: str) -> str | None:
    """The name that a requirement asks for here; None where it is for another place or an extra."""
    text, _, marker = requirement.partition(";")
    match = re.match(r"[A-Za-z0-9][\w.-]*", text.strip())
    if match is None or "extra" in marker:
        return None
    name = re.sub(r"[-_.]+", "-", match[0]).lower()  # as registries compare names (PEP 503)
    try:
        metadata.distribution(name)
    except metadata.PackageNotFoundError:
        if marker:  # of another Python or another system
            return None
        raise
    return name


def _component(name: str, reference: str) -> dict[str, Any]:
    """What is known of an installed distribution."""
    about = metadata.metadata(name)
    licence = about.get("License-Expression") or about.get("License") or ""
    of_class = [c.split(" :: ")[-1] for c in about.get_all("Classifier", ()) if "License" in c]
    said = licence if licence and "\n" not in licence and len(licence) < 60 else ", ".join(of_class)
    version = metadata.version(name)
    return {
        "type": "library", "bom-ref": reference, "name": name, "version": version,
        "description": about.get("Summary") or "", "purl": f"pkg:pypi/{name}@{version}",
        "licenses": [{"license": {"name": said or "not stated"}}],
    }  # fmt: skip


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
    tasks.add_parser("bill")
    asked = parser.parse_args()
    if asked.task == "build":
        build(asked.out)
    elif asked.task == "bill":
        bill()
    else:
        print("| Python | dependencies | among them | CL of the first point |\n| - | - | - | - |")
        with tempfile.TemporaryDirectory() as made:
            kept = asked.keep or Path(made)
            for python in asked.python or [sys.executable]:
                for which in asked.which or ("oldest", "newest"):
                    print(tried(python, which, asked.folder.resolve(), kept), flush=True)


if __name__ == "__main__":
    main()
