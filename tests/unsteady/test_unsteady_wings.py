"""The unsteady lattice on wings of finite span, and the lag law fitted to it."""

import numpy as np
import pytest
from plates import STREAM, ellipse, heave, lattice_of, rectangle, sudden_start

from vlm.constants import Floats
from vlm.errors import ComputationFailed
from vlm.flow.onset import tip_column
from vlm.flow.solve import unit_flows
from vlm.lattice.cellule import Grid
from vlm.unsteady.course import Course
from vlm.unsteady.forces import LoadHistory, load_history
from vlm.unsteady.lag import fitted_lag
from vlm.unsteady.march import march, quasi_steady

# R. T. Jones, NACA Report 681 (1940), from memory: lift over its final value after a sudden
# start is 1 - a exp(-b s); his final values are those of a lifting line.
JONES = {3.0: (0.283, 0.540), 6.0: (0.361, 0.381)}


@pytest.mark.parametrize("aspect_ratio", [3.0, 6.0])
def test_jones_1940_sudden_start_of_elliptic_wings(aspect_ratio: float) -> None:
    times, lift = sudden_start(ellipse(aspect_ratio, Grid(rows=6, strips=10)), 0.1, 20.0)
    share, rate = JONES[aspect_ratio]
    way = np.array([0.5, 1.0, 2.0, 4.0, 6.0, 10.0])
    found = np.interp(way, times, lift) / lift[-1]
    assert found == pytest.approx(1.0 - share * np.exp(-rate * way), abs=0.035)


def test_lag_law_follows_the_lattice() -> None:
    times, lift = sudden_start(ellipse(6.0, Grid(rows=6, strips=10)), 0.1, 20.0)
    law = fitted_lag(times, lift / lift[-1])
    assert law.misfit < 0.01
    assert law.response(times) == pytest.approx(lift / lift[-1], abs=0.01)


def test_lag_law_finds_the_approximation_of_wagner_by_jones() -> None:
    # R. T. Jones, NACA Report 681 (1940), from memory.
    way = np.linspace(0.0, 60.0, 400)
    law = fitted_lag(way, 1.0 - 0.165 * np.exp(-0.0455 * way) - 0.335 * np.exp(-0.3 * way))
    assert np.sort(law.shares) == pytest.approx([0.165, 0.335], rel=1e-3)
    assert np.sort(law.rates) == pytest.approx([0.0455, 0.3], rel=1e-3)


def test_states_of_the_law_sum_up_to_its_response() -> None:
    law = fitted_lag(*_short_response())
    states, ramp = np.zeros(2), 3.0
    for _ in range(30):
        states = law.advanced(states, 0.1 / ramp, 0.1)
    fine = np.linspace(0.0, ramp, 3001)
    summed = float(np.trapezoid(law.response(ramp - fine), fine)) / ramp
    assert 1.0 - float(states.sum()) == pytest.approx(summed, abs=1e-6)


def _short_response() -> tuple[Floats, Floats]:
    way = np.linspace(0.1, 20.0, 60)
    return way, 1.0 - 0.2 * np.exp(-0.3 * way) - 0.15 * np.exp(-1.1 * way)


def test_refuses_a_response_that_is_too_short() -> None:
    with pytest.raises(ComputationFailed, match="too short"):
        fitted_lag(np.arange(3.0), np.arange(3.0))


def test_refuses_a_stream_that_stands_still() -> None:
    lattice = rectangle(4.0, Grid(rows=2, strips=4))
    with pytest.raises(ComputationFailed, match="carries the wake off"):
        march(Course(lattice, np.zeros(3)), 0.1, 2)


def test_long_after_a_start_the_circulation_is_that_of_a_settled_flow() -> None:
    course = heave(rectangle(4.0, Grid(rows=4, strips=6)), lambda t: 0.1)
    late = march(course, 1.0, 400, from_steady=False).circulation[-1]
    assert late == pytest.approx(quasi_steady(course, 1.0, 1).circulation[0], rel=2e-5)


def test_a_steady_flow_stays() -> None:
    course = heave(rectangle(4.0, Grid(rows=4, strips=6)), lambda t: 0.1)
    found = march(course, 0.3, 20, kept_rows=5).circulation
    assert found == pytest.approx(np.tile(found[0], (21, 1)), rel=1e-10)


TIPPED = {
    "title": "plate with tips",
    "upper": {
        "span_m": 6.0,
        "root_chord_m": 2.0,
        "end_chord_m": 2.0,
        "camber": "flat",
        "tips": {"span_m": 3.0, "end_chord_m": 1.5, "fold_min_deg": -90.0, "fold_max_deg": 90.0},
    },
}


def test_settled_flows_are_the_unit_flows_of_the_steady_lattice() -> None:
    lattice = lattice_of(TIPPED, Grid(rows=4, strips=8), fold=-40.0)
    flows = unit_flows(lattice)
    heaved = quasi_steady(heave(lattice, lambda t: 1.0), 0.5, 1)
    assert heaved.circulation[0] == pytest.approx(
        flows.circulation[:, 0] + flows.circulation[:, 2], abs=1e-9
    )
    turning = Course(lattice, STREAM, tip_rates=lambda t: {"upper_right": 1.0})
    added = flows.circulation[:, tip_column(lattice, "upper_right")]
    assert quasi_steady(turning, 0.5, 1).circulation[0] == pytest.approx(
        flows.circulation[:, 0] + added, abs=1e-9
    )


def test_a_tip_that_swings_up_is_held_back_and_the_mirrored_swing_is_mirrored() -> None:
    lattice = lattice_of(TIPPED, Grid(rows=4, strips=8))

    def loads_of(body: str) -> LoadHistory:
        def rates(time: float) -> dict[str, float]:
            return {body: 0.1 * np.sin(time) ** 2}

        return load_history(march(Course(lattice, STREAM, tip_rates=rates), 0.25, 12))

    right, left = loads_of("upper_right"), loads_of("upper_left")
    swung = right.bodies["upper_right"].hinge_moment
    assert swung is not None
    assert swung[4:8].max() < 0.0
    assert left.bodies["upper_left"].hinge_moment == pytest.approx(swung, abs=1e-12)
    assert left.moment()[:, 0] == pytest.approx(-right.moment()[:, 0], abs=1e-12)
    assert left.force()[:, 2] == pytest.approx(right.force()[:, 2], abs=1e-12)
