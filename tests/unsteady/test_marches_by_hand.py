"""Loads, marches and lags of made-up rings, by hand.

Kutta and Joukowski on segments, rho dGamma/dt times the area on rings (Katz and Plotkin, from
memory); the lag law's equation by small steps; the sheet of equation (b) by
scipy's quadrature with its weight "cauchy".
"""

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from scipy.integrate import quad

from vlm.errors import ComputationFailed
from vlm.lattice.spacing import chord_rows, row_extents
from vlm.unsteady.course import Course
from vlm.unsteady.forces import BodyLoads, LoadHistory, _pieces, load_history, ring_areas
from vlm.unsteady.lag import LagLaw, fitted_lag
from vlm.unsteady.march import History, _carried, _shed_before, _times
from vlm.unsteady.shedding import edge_corrections, shedding

RANDOM = np.random.default_rng(9)


def patch(sense: float = 1.0, body: str = "fixed") -> Any:
    """Two rows of one strip: rings of 1 by 2 m, the second 3 m long; in the plane z = 0."""
    nodes = np.zeros((3, 2, 3))
    nodes[:, :, 0] = np.array([0.0, 1.0, 4.0])[:, None]
    nodes[:, 1, 1] = 2.0 * sense
    return SimpleNamespace(
        nodes=nodes, sense=sense, rows=2, strips=1, body=body,
        bound_points=lambda: 0.5 * (nodes[:-1, 1:] + nodes[:-1, :-1]),
        chordwise_points=lambda: 0.5 * (nodes[1:] + nodes[:-1]),
    )  # fmt: skip


@pytest.mark.parametrize("sense", [1.0, -1.0])
def test_areas_of_rings_point_up_on_either_side(sense: float) -> None:
    areas, middles = ring_areas(patch(sense))
    np.testing.assert_allclose(areas[:, 0], [[0.0, 0.0, 2.0], [0.0, 0.0, 6.0]])
    np.testing.assert_allclose(middles[:, 0], [[0.5, sense, 0.0], [2.5, sense, 0.0]])


def made(**keys: Any) -> tuple[Any, History]:
    """Rings of 1 and 3 m^2/s that grow to 2 and 7 in half a second; air of (10, 0, 1) m/s."""
    one = patch(body="upper_right")
    hinge = SimpleNamespace(
        axis=np.array([1.0, 0.0, 0.0]), point=np.zeros(3), moment=lambda f, m, p: m[:, 0]
    )
    lattice: Any = SimpleNamespace(
        patches=[one], bodies=("upper_right",), hinges={"upper_right": hinge},
        reference=SimpleNamespace(moment_point=np.array([1.0, 0.0, 0.0])),
        panels_of=lambda index: slice(0, 2), trailing_panels=lambda: np.array([1]),
    )  # fmt: skip
    course = Course(lattice, np.array([10.0, 0.0, 1.0]), density=1.2, **keys)
    circulation = np.array([[1.0, 3.0], [2.0, 7.0]])
    return one, History(course, np.array([0.0, 0.5]), circulation, circulation[:, 1:])


def test_forces_on_segments_and_rings() -> None:
    """Bound: 1 and 2 at first, 2 and 5 then, on 2 m along y: (10, 0, 1) x (0, 2, 0) = (-2, 0, 20).
    Chordwise at y = 0: -1 and -3, then -2 and -7, on 1 and 3 m along x: (0, 1, 0) and (0, 3, 0);
    at y = 2 the opposite. Rings grow by 2 and 8 m^2/s in a second, on 2 and 6 m^2."""
    one, history = made()
    bound, chordwise, pressure = _pieces(history, one, history.circulation.reshape(-1, 2, 1))
    np.testing.assert_allclose(bound[0][0, :, 0], 1.2 * np.outer([1.5, 3.5], [-2.0, 0.0, 20.0]))
    np.testing.assert_allclose(chordwise[0][0, :, 0, 1], 1.2 * np.array([-1.5, -15.0]))
    np.testing.assert_allclose(chordwise[0][0, :, 1, 1], 1.2 * np.array([1.5, 15.0]))
    np.testing.assert_allclose(pressure[0][0, :, 0, 2], 1.2 * np.array([4.0, 48.0]))
    assert not np.any(pressure[0][..., :2])


@pytest.mark.parametrize("pressed", [True, False])
def test_loads_of_bodies_and_strips(pressed: bool) -> None:
    """Lift 1.2 (5 x 20) and 1.2 x 52 of the pressure; moments about (1, 0, 0): the bound segments
    stand at x = 0 and 1, the rings' middles at 0.5 and 2.5, all at y = 1."""
    _, history = made()
    found = load_history(history, apparent_mass=pressed)
    lift, extra = 1.2 * 100.0, 1.2 * 52.0 if pressed else 0.0
    body = found.bodies["upper_right"]
    np.testing.assert_allclose(body.force[0], [-12.0, 0.0, lift + extra])
    nose = 1.2 * (1.5 * 20.0 * 1.0 - (4.0 * -0.5 + 48.0 * 1.5 if pressed else 0.0))
    np.testing.assert_allclose(body.moment[0], [lift + extra, nose, 12.0])
    assert body.hinge_moment is not None
    assert body.hinge_moment[0] == pytest.approx(lift + extra)
    assert found.bodies["fixed"].hinge_moment is None
    np.testing.assert_allclose(found.strip_forces[0, 0], [-12.0, 0.0, lift + extra])
    assert found.times.tolist() == [0.25]
    np.testing.assert_allclose(found.force()[0], body.force[0])
    np.testing.assert_allclose(found.moment()[0], body.moment[0])


def test_bodies_add_up() -> None:
    loads = [BodyLoads(RANDOM.normal(size=(2, 3)), RANDOM.normal(size=(2, 3)), None) for _ in "ab"]
    whole = LoadHistory(np.zeros(2), dict(zip("ab", loads, strict=True)), np.zeros((2, 1, 3)))
    np.testing.assert_allclose(whole.force(), loads[0].force + loads[1].force)
    np.testing.assert_allclose(whole.moment(), loads[0].moment + loads[1].moment)


def test_the_air_past_a_tip_that_turns_in_a_gust() -> None:
    """The stream, the gust and less what the tip's own turning moves the point by."""
    _, history = made(
        gust=lambda time, points: time * points, tip_rates=lambda time: {"upper_right": 2.0 * time}
    )
    points = np.array([[[0.0, 3.0, 0.5]]])
    still = history.course.air_past(0.5, "fixed", points)
    np.testing.assert_allclose(still[0, 0], [10.0, 1.5, 1.25])
    # At 1 rad/s about x the point (., 3, 0.5) moves by (0, -0.5, 3).
    turned = history.course.air_past(0.5, "upper_right", points)
    np.testing.assert_allclose(turned[0, 0], [10.0, 2.0, -1.75])


def test_what_was_shed_before() -> None:
    """Newest first; behind the first state the wake goes on unchanged."""
    edge = np.array([[1.0], [2.0], [3.0]])
    assert _shed_before(edge, 3)[:, 0].tolist() == [3.0, 2.0]
    assert _shed_before(edge, 6)[:, 0].tolist() == [3.0, 2.0, 1.0, 1.0, 1.0]
    assert _times(0.5, 2).tolist() == [0.0, 0.5, 1.0]
    _, history = made()
    np.testing.assert_allclose(_carried(history.course, 0.1), [1.0, 0.0, 0.1])


@pytest.mark.parametrize("law", ["gauss", "uniform"])
def test_what_rows_miss_of_a_sheet_of_unit_slope_at_the_edge(law: Any) -> None:
    """Equation (b): the velocity of a sheet of the vorticity (1 - u)(1 - 3 u) on the chord and one
    on a step of wake, by quadrature, less that of their vortices; chord 0.8, step 0.2, an edge
    swept by 30 degrees, whose velocity across is larger by one over its cosine."""
    chord, step, rows, sweep = 0.8, 0.2, 3, np.radians(30.0)
    vortices, controls = chord_rows(rows, law)
    trail = np.array([[0.8, 0.0, 0.0], [0.8 + np.tan(sweep), 1.0, 0.0]])
    one: Any = SimpleNamespace(
        rows=rows, chord=np.array([chord]), nodes=trail[None],
        trailing_stations=lambda: trail[:1] + 0.5 * (trail[1] - trail[0]),
        bound_points=lambda: [trail[:1] + 0.5 * (trail[1] - trail[0]) - [0.7, 0.0, 0.0]],
    )  # fmt: skip
    found = edge_corrections(one, step, law)
    borders = np.concatenate([[0.0], np.cumsum(row_extents(rows, law))])

    def jump(x: float) -> float:
        u = 1.0 - x
        return -u * (1.0 - u) ** 2

    for row, x in enumerate(controls):
        place = 1.0 - x
        sheet = quad(lambda u: (1.0 - u) * (1.0 - 3.0 * u), 0.0, 1.0, weight="cauchy", wvar=place)[
            0
        ]
        sheet -= quad(lambda s, p=place: 1.0 / (p + s), 0.0, step / chord)[0]
        discrete = sum(
            (jump(borders[k + 1]) - jump(borders[k])) / (x - vortices[k]) for k in range(rows)
        )
        # The wake's first ring has half of the step's jump, with vortices at its two ends.
        discrete += 0.5 * step / chord * (1.0 / (x - 1.0) + 1.0 / (x - 1.0 - step / chord))
        wanted = (discrete - sheet) / (2.0 * np.pi * np.cos(sweep))
        assert found[row, 0] == pytest.approx(wanted, rel=1e-9)


def test_the_lag_law_in_its_own_equation() -> None:
    """dx/ds = -b x + a dq/ds for a ramp of q, by small steps; Jones's numbers for Wagner's function
    (R. T. Jones, NACA Report 681, from memory): 1 - 0.165 exp(-0.0455 s) - 0.335 exp(-0.3 s)."""
    law = LagLaw(np.array([0.165, 0.335]), np.array([0.0455, 0.3]), 0.0)
    assert law.mean_lag == pytest.approx(0.165 / 0.0455 + 0.335 / 0.3)
    ways = np.array([0.0, 2.0, 10.0])
    wanted = 1.0 - 0.165 * np.exp(-0.0455 * ways) - 0.335 * np.exp(-0.3 * ways)
    np.testing.assert_allclose(law.response(ways), wanted)
    states = np.array([0.2, -0.1])
    slow, count = states.copy(), 20_000
    for _ in range(count):
        slow = slow + 1.5 / count * (-law.rates * slow + law.shares * 0.7 / 1.5)
    np.testing.assert_allclose(law.advanced(states, 0.7, 1.5), slow, rtol=1e-4)


def test_a_fit_needs_more_values_than_numbers_and_tells_its_misfit() -> None:
    way = np.linspace(0.0, 20.0, 40)
    response = 1.0 - 0.3 * np.exp(-0.2 * way)
    one = fitted_lag(way, response, states=1)
    assert (one.shares[0], one.rates[0]) == pytest.approx((0.3, 0.2), rel=1e-4)
    assert one.misfit < 1e-5
    off = fitted_lag(way, response + 0.01 * (way == way[20]), states=1)
    assert off.misfit == pytest.approx(0.01, rel=0.1)
    with pytest.raises(ComputationFailed, match="too short or not finite"):
        fitted_lag(way[:4], response[:4])
    assert len(fitted_lag(way[:5], response[:5]).shares) == 2


def test_a_march_beyond_memory_is_refused_before_it_is_made(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """100 panels and 7 rows of 30 strips: as much as sqrt(100 (100 + 2 x 7 x 30)) = 228 panels; two
    tables of panels by strips a row, and one of panels."""

    def refuse(panels: int) -> None:
        raise ComputationFailed(f"{panels} panels")

    monkeypatch.setattr("vlm.unsteady.shedding.refuse_too_large", refuse)
    lattice: Any = SimpleNamespace(
        panels=100, patches=[SimpleNamespace(strips=n) for n in (10, 20)]
    )
    with pytest.raises(ComputationFailed, match="228 panels"):
        shedding(lattice, np.array([0.1, 0.0, 0.0]), 7)
