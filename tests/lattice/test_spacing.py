"""Spacing laws of strips and rows, held against thin-section theory and Munk's wake.

Sources: H. Glauert, The Elements of Aerofoil and Airscrew Theory (1926), chapter VII: thin
sections, flat and parabolic; M. Munk, NACA Report 121 (1921): the elliptic loading; R. M. James,
Computer Methods in Applied Mechanics 1 (1972): vortices at the quarters. From memory.
"""

import numpy as np
import pytest

from vlm.lattice.spacing import chord_rows, row_extents, span_stations


@pytest.mark.parametrize("law", ["cosine", "graded", "uniform"])
@pytest.mark.parametrize(
    ("start", "end"), [(True, True), (False, True), (True, False), (False, False)]
)
def test_edges_run_from_end_to_end_with_a_station_in_each_strip(law, start, end) -> None:
    edges, stations = span_stations(7, law, dense_start=start, dense_end=end)
    assert (edges[0], edges[-1]) == (0.0, 1.0)
    assert np.all(np.diff(edges) > 0.0)
    assert np.all(edges[:-1] < stations)
    assert np.all(stations < edges[1:])


def test_cosine_law_is_one_mapping_of_edges_and_stations() -> None:
    edges, stations = span_stations(6, "cosine", dense_start=True, dense_end=True)
    both = np.empty(13)
    both[::2], both[1::2] = edges, stations
    np.testing.assert_allclose(np.arccos(1.0 - 2.0 * both) / np.pi, np.arange(13) / 12, atol=1e-15)


def test_graded_law_starts_three_powers_flatter_than_even() -> None:
    """s = (8 - 9 cos pi t + cos 3 pi t)/16 has no power of t below the fourth at its ends."""
    edges, _ = span_stations(1000, "graded", dense_start=True, dense_end=True)
    assert edges[2] / edges[1] == pytest.approx(2.0**4, rel=1e-4)
    assert (1.0 - edges[-3]) / (1.0 - edges[-2]) == pytest.approx(2.0**4, rel=1e-4)


@pytest.mark.parametrize("law", ["cosine", "graded"])
def test_a_half_wing_with_a_smooth_centre_is_half_of_the_full_piece(law) -> None:
    half, half_stations = span_stations(5, law, dense_start=False, dense_end=True)
    full, full_stations = span_stations(10, law, dense_start=True, dense_end=True)
    np.testing.assert_allclose(half, 2.0 * full[5:] - 1.0, atol=1e-15)
    np.testing.assert_allclose(half_stations, 2.0 * full_stations[5:] - 1.0, atol=1e-15)
    other, _ = span_stations(5, law, dense_start=True, dense_end=False)
    np.testing.assert_allclose(other, 1.0 - half[::-1], atol=1e-15)


def test_a_piece_without_dense_ends_has_equal_strips() -> None:
    edges, stations = span_stations(4, "cosine", dense_start=False, dense_end=False)
    np.testing.assert_allclose(edges, [0.0, 0.25, 0.5, 0.75, 1.0])
    np.testing.assert_allclose(stations, [0.125, 0.375, 0.625, 0.875])


def elliptic_loading(strips: int, law: str) -> tuple[float, np.ndarray]:
    """Span efficiency of the elliptic loading and its downwash at the stations, far behind.

    Straight vortices run from the strips' edges; span 2, peak circulation 1, so that the
    downwash of the true loading is 1/2 all along and its efficiency 1.
    """
    edges, stations = span_stations(strips, law, dense_start=True, dense_end=True)
    y, at = 2.0 * edges - 1.0, 2.0 * stations - 1.0
    circulation = np.sqrt(1.0 - at**2)
    shed = np.diff(np.concatenate([[0.0], circulation, [0.0]]))
    downwash = (shed / (2.0 * np.pi * (at[:, None] - y))).sum(axis=1)
    lift, drag = circulation @ np.diff(y), 0.5 * circulation @ (downwash * np.diff(y))
    return float(lift**2 / (2.0 * np.pi * drag)), downwash


@pytest.mark.parametrize("strips", [2, 3, 7, 20])
def test_munk_elliptic_loading_is_exact_at_any_number_of_cosine_strips(strips) -> None:
    """Uniform downwash and span efficiency 1: the least drag any loading can have."""
    efficiency, downwash = elliptic_loading(strips, "cosine")
    np.testing.assert_allclose(downwash, downwash[0], rtol=1e-12)
    assert efficiency == pytest.approx(1.0, abs=1e-12)


def test_munk_uniform_strips_only_tend_to_it() -> None:
    errors = [abs(elliptic_loading(n, "uniform")[0] - 1.0) for n in (10, 20, 40)]
    assert errors[0] > 1e-3
    assert errors[0] > errors[1] > errors[2]


def section(rows: int, law: str, slope) -> tuple[float, float]:
    """Lift and moment about the quarter chord of a thin section at unit incidence, two dimensions.

    ``slope`` is the mean line's dz/dx at the control points.
    """
    vortices, controls = chord_rows(rows, law)
    influence = 1.0 / (2.0 * np.pi * (controls[:, None] - vortices))
    circulation = np.linalg.solve(influence, 1.0 - slope(controls))
    return 2.0 * float(circulation.sum()), -2.0 * float(circulation @ (vortices - 0.25))


@pytest.mark.parametrize("rows", [1, 2, 3, 8])
def test_glauert_flat_section_is_exact_at_any_number_of_gauss_rows(rows) -> None:
    lift, moment = section(rows, "gauss", np.zeros_like)
    assert lift == pytest.approx(2.0 * np.pi, rel=1e-12)
    if rows > 1:  # One vortex at (1 - cos 90 deg) / 2 is not at the quarter chord.
        assert moment == pytest.approx(0.0, abs=1e-12)


@pytest.mark.parametrize("rows", [3, 5, 9])
def test_glauert_parabolic_section_is_exact_too(rows) -> None:
    """z = 4 h x (1 - x): zero lift at -2 h, moment about the quarter chord - pi h."""
    h = 0.03
    lift, moment = section(rows, "gauss", lambda x: 4.0 * h * (1.0 - 2.0 * x))
    assert lift == pytest.approx(2.0 * np.pi * (1.0 + 2.0 * h), rel=1e-12)
    assert moment == pytest.approx(-np.pi * h, rel=1e-11)


@pytest.mark.parametrize("rows", [1, 2, 6])
def test_james_uniform_rows_give_the_flat_section_lift_exactly(rows) -> None:
    assert section(rows, "uniform", np.zeros_like)[0] == pytest.approx(2.0 * np.pi, rel=1e-12)


@pytest.mark.parametrize("law", ["gauss", "uniform"])
def test_extents_of_rows_add_up_to_the_chord_and_hold_their_vortex(law) -> None:
    extents = row_extents(6, law)
    assert extents.sum() == pytest.approx(1.0, rel=1e-14)
    ends = np.cumsum(extents)
    vortices, controls = chord_rows(6, law)
    assert np.all(vortices < ends)
    assert np.all(vortices > ends - extents)
    assert np.all(controls <= ends + 1e-15)
    assert np.all(controls > vortices)
