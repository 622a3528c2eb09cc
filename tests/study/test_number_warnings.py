"""Warnings of numbers, and what differs between two datasets, by hand.

No source but the rules stated in the modules; all numbers are invented.
"""

from types import SimpleNamespace

import numpy as np
import pytest

from vlm.loads.state import FlightState
from vlm.study.point import validity
from vlm.study.sweep import differences
from vlm.study.sweep.foreign import HeldVariable


def half(span=3.0, area=1.5, height=0.0):
    return SimpleNamespace(half_span=span, area=area, leading_edge=np.array([[0.0, 0.0, height]]))


@pytest.mark.parametrize(
    ("span", "area", "limit"),
    [
        (3.0, 1.5, None),
        (0.24, 0.5, 0.25),
        (0.2505, 0.5, None),
        (6.33, 2.0, 40.0),
        (6.32, 2.0, None),
    ],
)
def test_aspect_ratios_beyond_what_was_validated(span, area, limit):
    """(2 b)^2/(2 S) of half span b and half area S."""
    cellule = SimpleNamespace(halves={"upper": half(span, area)})
    found = validity.craft_warnings(cellule)
    assert [f.limit for f in found] == ([limit] if limit else [])
    assert all(f.value == pytest.approx(2.0 * span**2 / area) for f in found)


@pytest.mark.parametrize(("height", "named"), [(0.06, True), (-0.06, True), (0.07, False)])
def test_a_gap_below_a_quarter_of_the_chord(height, named):
    cellule = SimpleNamespace(
        halves={"upper": half(), "lower": half(height=height)},
        reference=SimpleNamespace(chord=0.25),
    )
    found = validity.craft_warnings(cellule)
    assert [f.value for f in found] == ([pytest.approx(0.24)] if named else [])


def value_codes(values, widths, aspect=6.0):
    plain = {"CL": 0.5, "CDi": 0.01, "CL_alpha": 4.0, "Cl_p": -0.4}
    found = validity.value_findings({**plain, **values}, widths, aspect, 0.0)
    return [(f.code, f.value) for f in found]


def test_half_widths_beyond_a_tenth_of_their_values():
    assert value_codes({}, {"CL": 0.049, "Cl_p": 0.039}) == []
    assert value_codes({}, {"CL": 0.051}) == [("half_width: CL", pytest.approx(0.102))]
    assert value_codes({}, {"Cl_p": 0.041}) == [("half_width: Cl_p", pytest.approx(0.1025))]
    # Lift counts at least as one degree of attack gives, drag as that lift's share.
    lift = 4.0 * np.pi / 180.0
    assert value_codes({"CL": 0.0}, {"CL": 0.11 * lift}) == [
        ("half_width: CL", pytest.approx(0.11))
    ]
    assert value_codes({"CL": 0.0}, {"CL": 0.09 * lift}) == []
    drag = lift**2 / (6.0 * np.pi)
    assert value_codes({"CDi": 0.0}, {"CDi": 0.11 * drag}) == [
        ("half_width: CDi", pytest.approx(0.11))
    ]
    assert value_codes({"CDi": 0.0}, {"CDi": 0.09 * drag}) == []
    many = {"CL": np.array([0.5, 0.1]), "CL_alpha": np.array([4.0, 4.0])}
    assert value_codes(many, {"CL": np.array([0.01, 0.02])}) == [
        ("half_width: CL", pytest.approx(0.2))
    ]
    assert value_codes({"Cl_p": 0.0}, {"Cl_p": 0.1}) == []
    assert value_codes({}, {"CL": np.nan}) == []


@pytest.mark.parametrize(("drag", "named"), [(-2e-6, True), (-1e-7, False)])
def test_negative_drag(drag, named):
    found = value_codes({"CDi": np.array([0.01, drag])}, {})
    assert found == ([("negative_drag", drag)] if named else [])


def test_panels_are_ranged_by_both_sizes():
    """Panels of 1 x 1, 1 x 3, 2 x 1 and 2 x 3: 1/width + 1/length from 5/6 to 2."""
    x, y = np.array([0.0, 1.0, 4.0]), np.array([0.0, 1.0, 3.0])
    nodes = np.stack([*np.meshgrid(x, y, indexing="ij"), np.zeros((3, 3))], axis=-1)
    lattice = SimpleNamespace(
        patches=[SimpleNamespace(nodes=nodes)], grid=SimpleNamespace(strips=10)
    )
    assert validity._panel_range(lattice) == pytest.approx(2.4)
    for condition, named in ((479.0, False), (481.0, True)):
        found = validity.condition_findings(SimpleNamespace(condition=condition, lattice=lattice))
        assert [f.value for f in found] == ([pytest.approx(condition / 24.0)] if named else [])


@pytest.mark.parametrize(
    ("state", "code", "value"),
    [
        (FlightState(alpha=np.radians(12.1)), "angle_of_attack", 12.1),
        (FlightState(alpha=np.radians([-12.1, 3.0])), "angle_of_attack", 12.1),
        (FlightState(beta=np.radians(-10.1)), "sideslip", 10.1),
        (FlightState(q_hat=-0.11), "rate", 0.11),
        (FlightState(p_hat=0.11), "rate", 0.11),
        (FlightState(airspeed=103.0), "mach", 103.0 / 340.294),
        (
            FlightState(alpha=np.radians(11.9), beta=np.radians(9.9), r_hat=0.09, airspeed=15.0),
            None,
            0,
        ),
    ],
)
def test_states_beyond_small_angles_rates_and_speeds(state, code, value):
    """340.294 m/s: U.S. Standard Atmosphere 1976, sea level (from memory)."""
    found = validity.state_warnings(state)
    known = [f for f in found if f.code in ("angle_of_attack", "sideslip", "rate", "mach")]
    assert [f.code for f in known] == ([code] if code else [])
    assert all(f.value == pytest.approx(value, rel=1e-5) for f in known)


def held(values, dims=("a",)):
    values = np.array(values)
    return HeldVariable(dims=dims, values=values, attributes={})


@pytest.mark.parametrize(
    ("one", "two", "apart"),
    [
        ([1.0, 2.0], [1.0, 4.0], 0.5),
        ([1e-5], [3e-5], 0.02),
        ([1.0, np.nan], [1.0, np.nan], 0.0),
        ([1.0, np.nan], [1.0, 2.0], np.inf),
        ([np.inf], [-np.inf], np.inf),
        ([np.inf], [np.inf], 0.0),
        ([np.nan], [np.inf], np.inf),
        ([-4.0, 1.0], [-2.0, 1.0], 1.0),
        ([0.0], [0.0], 0.0),
    ],
)
def test_numbers_are_apart_by_a_share_of_the_largest(one, two, apart):
    assert differences.apart_by(np.array(one), np.array(two)) == pytest.approx(apart)


@pytest.mark.parametrize(
    ("name", "one", "two", "differs"),
    [
        ("CL", [1.0, 2.0], [1.0, 2.0 + 1e-9], False), ("CL", [1.0, 2.0], [1.0, 2.1], True),
        ("condition", [1000.0], [1000.9], False), ("condition", [1000.0], [1002.0], True),
        ("residual", [1e-30], [5e-14], False), ("residual", [1.0], [1e-14], True),
        ("residual", [-1e-3], [1e-14], True), ("residual", [np.nan], [1e-14], True),
    ],
)  # fmt: skip
def test_what_counts_as_a_difference_of_a_variable(name, one, two, differs):
    worst = {}
    found = differences._variable("v", name, held(one), held(two), 1e-8, worst)
    assert bool(found) == differs
    assert set(worst) == ({"CL"} if name == "CL" else set())


def test_axes_kinds_and_shapes_are_differences():
    one = held([1.0, 2.0])
    for other, words in (
        (held([1.0, 2.0], ("b",)), "axes a, not b"),
        (held([1, 2]), "holds numbers"),
        (held([1.0, 2.0, 3.0]), "shape (2,)"),
        (held(np.array([1.0, 2.0], dtype=np.float32)), "kept as float64"),
    ):
        [found] = differences._variable("v", "CL", one, other, 1e-8, {})
        assert words in found.what


@pytest.mark.parametrize(
    ("one", "two", "same"),
    [
        (1.0, 1.0 + 5e-9, True),
        (1.0, 1.0 + 5e-8, False),
        (100.0, 100.0 + 5e-7, True),
        (0.0, 5e-12, True),
        (0.0, 5e-11, False),
        (np.nan, np.nan, True),
        (np.inf, 1.0, False),
        (True, 1, False),
        (True, True, True),
        ([1.0, 2], [1.0, 2], True),
        ([1.0], [1.0, 2.0], False),
        ({"a": 1.0}, {"a": 1.0}, True),
        ({"a": 1.0}, {"b": 1.0}, False),
        ("x", "x", True),
        ("x", 1.0, False),
        ((1.0,), [1.0], True),
    ],
)
def test_values_that_are_the_same_to_a_limit(one, two, same):
    assert differences.same_values(one, two, 1e-8) == same
