"""The trace over the fold of both sides is what direct solutions give.

Against: the same states by ``solve_point``, which solves each fold for the one state; loads for any
state are interpolated over five directions of the wake, good to 1e-4 of the box's hinge moment.
"""

import numpy as np
import pytest

from vlm.description import FoldAngles, load_biplane
from vlm.lattice.cellule import Grid
from vlm.study.point.fold_trace import FoldTracer
from vlm.study.point.point import solve_point
from vlm.study.point.session import Session, Setting

GRID = Grid(2, 6)


def test_a_trace_holds_direct_solutions_and_tells_contact() -> None:
    craft = load_biplane("tideline")
    setting = Setting(alpha_deg=6.0, airspeed_m_s=15.0)
    trace = FoldTracer(Session(craft, GRID), 8).trace(setting)
    assert trace.folds_deg.tolist() == pytest.approx(np.linspace(-90.0, 120.0, 8).tolist())
    assert trace.joined == (True, *[False] * 7)
    for place in (0, 3, 6):
        folds = FoldAngles.symmetric(float(trace.folds_deg[place]))
        solved = solve_point(craft, folds, setting.flight_state, grid=GRID, errors=False)
        assert trace.values["CL"][place] == pytest.approx(solved.coefficients.CL, rel=1e-5)
        slope = solved.derivatives["body"]["Cl_beta"]
        assert trace.values["Cl_beta"][place] == pytest.approx(slope, rel=1e-4)
        moment = solved.hinges[trace.hinge].moment
        assert trace.values["hinge_moment_N_m"][place] == pytest.approx(moment, rel=5e-4)
