#!/usr/bin/env python3
"""Test with the oldest supported versions of the dependencies: the lower bounds of pyproject.toml.

    python .ci/oldest.py [--only-list] [--folder FOLDER] [PYTEST ARGUMENTS]

The bounds are those of the Python that runs this.

Makes an environment with exactly these versions and runs a core subset of the tests in it. The
newest versions are what .ci/run installs. --only-list prints the constraints and ends.
"""

import argparse
import os
import re
import subprocess
import sys
import tempfile
import tomllib
import venv
from pathlib import Path

PROJECT = Path(__file__).resolve().parents[1]
EXTRAS = ("cluster",)
TEST_TOOLS = ("pytest", "hypothesis", "jsonschema")
# matplotlib 3.9 uses names of pyparsing that later ones warn of, and warnings are errors here.
INDIRECT = ("pyparsing==3.1.4",)
TESTS = (
    "kernel unit_flows invariants derivatives folding_geometry contact planform sweep "
    "soundness description_refusals description_round_trip description_overrides strip_coupling "
    "section_polars momentum_theory trim modes_of_motion flight_log_statistics sweep_plots "
    "commands_core reproducible kept_arrays crossing forecast hostile_edges"
)


def lower_bounds() -> dict[str, str]:
    """Lower bound of each dependency that the core needs, of its extras and of the test tools.

    The later of two bounds is for newer Pythons alone.
    """
    project = tomllib.loads((PROJECT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    optional = project["optional-dependencies"]
    wanted = list(project["dependencies"])
    wanted += [one for extra in EXTRAS for one in optional[extra]]
    wanted += [one for one in optional["test"] if re.split(r"[<>=\[]", one)[0] in TEST_TOOLS]
    bounds = {}
    for one in wanted:
        match = re.fullmatch(r"([\w.-]+)>=([\w.]+)(?:; python_version >= '(\d+)\.(\d+)')?", one)
        if match and (not match[3] or sys.version_info >= (int(match[3]), int(match[4]))):
            bounds[match[1]] = match[2]
    return bounds


def main() -> int:
    """Make the environment, run the tests; returns pytest's status."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--only-list", action="store_true")
    parser.add_argument("--folder", type=Path, help="where the environment is kept")
    arguments, more = parser.parse_known_args()
    pins = [f"{name}=={version}" for name, version in sorted(lower_bounds().items())]
    pins += INDIRECT
    if arguments.only_list:
        sys.stdout.write("\n".join(pins) + "\n")
        return 0
    with tempfile.TemporaryDirectory() as made:
        folder = arguments.folder or Path(made)
        python = folder / ("Scripts/python.exe" if os.name == "nt" else "bin/python")
        if not python.exists():
            venv.create(folder, with_pip=True)
        subprocess.run([python, "-m", "pip", "install", "-q", *pins], check=True)
        tests = [next(PROJECT.glob(f"tests/*/test_{name}.py")) for name in TESTS.split()]
        command = [python, "-m", "pytest", "-q", "-p", "no:cacheprovider", *(more or tests)]
        place = os.environ | {"PYTHONPATH": str(PROJECT)}
        return subprocess.run(command, cwd=PROJECT, env=place, check=False).returncode


if __name__ == "__main__":
    sys.exit(main())
