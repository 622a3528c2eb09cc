"""Every kernel function is compiled for one kind of arrays: another takes seconds at the first use.

What numba compiles for it takes as its types (numba's documentation on signatures): the layout of
an array, C, Fortran or neither, is part of them.
"""

import subprocess
import sys

RUN = """
import sys
import numpy as np
from vlm.air import standard_air
from vlm.description.folds import FoldAngles
from vlm.description.loading import load_biplane
from vlm.flight.craft.section_change import SectionStrips
from vlm.flight.trim.powered import flight_loads, powered_craft
from vlm.lattice.cellule import Grid, build_cellule

craft, grid, folds = load_biplane("tideline"), Grid(rows=2, strips=6), FoldAngles(20.0, 0.0)
strips = SectionStrips(craft, folds, build_cellule(craft, grid))
thrusts = np.full(len(craft.rotors), 2.0)
for states in (1, 3):
    amounts = np.zeros((states, strips.onsets[0].shape[2]))
    amounts[:, 0], amounts[:, 2] = 15.0, np.linspace(1.0, 2.0, states)
    strips.change(amounts, 1.225)
    strips.change(amounts, 1.225, thrusts)
    amounts[:, 1] = 0.5
    strips.change(amounts, 1.225)
powered, start = powered_craft(craft, folds, grid=grid), None
for states in (1, 3):
    speed, alpha = np.full(states, 14.0), np.linspace(0.05, 0.3, states)
    loads = flight_loads(powered, speed, alpha, np.tile(thrusts, (states, 1)), start, alike=True)
    start = loads.coupled.offset[:1]
    flight_loads(powered, speed, alpha, np.tile(thrusts, (states, 1)), loads.coupled.offset)
for name, module in sorted(sys.modules.items()):
    if name.startswith("vlm.") and ".kernel" in name:
        for function, made in vars(module).items():
            if len(getattr(made, "signatures", ())):
                print(name, function, len(made.signatures))
"""


def test_each_is_compiled_for_one_layout(command_environment) -> None:
    run = subprocess.run(
        [sys.executable, "-P", "-c", RUN],
        env=dict(command_environment),
        capture_output=True,
        text=True,
    )
    assert run.returncode == 0, run.stderr
    rows = [line.split() for line in run.stdout.splitlines()]
    assert {"agreed", "blended", "segment_wrenches", "wind_of", "wake_velocity"} <= {
        function for _, function, _ in rows
    }
    assert {count for _, _, count in rows} == {"1"}, run.stdout
