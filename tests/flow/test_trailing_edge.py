"""What the rows of a lattice miss of a sheet that does not vanish at the trailing edge.

The sheet's velocity is integrated by QUADPACK (scipy.integrate.quad, with Cauchy's principal
value), its vortices are summed one by one: Biot and Savart in two dimensions, w = Gamma / (2 pi x).
"""

from itertools import pairwise

import numpy as np
import pytest
from core_craft import biplane, lattice_of, monoplane
from scipy.integrate import quad

from vlm.flow.wake_shape import STATIONS, WakeShape, bend
from vlm.lattice.cellule import Grid
from vlm.lattice.spacing import chord_rows, row_extents


def step_of_shape(u: float) -> float:
    """Derivative of u chi(u), by differences."""
    h = 1e-5
    return ((u + h) * bend(u + h) - (u - h) * bend(u - h)) / (2.0 * h)


def sheet_at(point: float, reach: float, on_wing: float) -> float:
    """2 pi times the velocity of the sheet [m/s per m/s]."""
    if -on_wing < point:
        # quad's weight is 1 / (x - point), a vortex acts as 1 / (point - x).
        wing = -quad(lambda x: step_of_shape(-x / on_wing), -on_wing, 0.0,
                     weight="cauchy", wvar=point)[0]  # fmt: skip
    else:
        wing = quad(lambda x: step_of_shape(-x / on_wing) / (point - x), -on_wing, 0.0)[0]
    slant = np.diff(STATIONS * bend(STATIONS)) / np.diff(STATIONS)
    wake = [
        s * quad(lambda x: 1.0 / (point - x), reach * a, reach * b)[0]
        for s, (a, b) in zip(slant, pairwise(STATIONS), strict=True)
    ]
    return float(wing + sum(wake))


def missed(reach: float, chord: float, rows: int) -> np.ndarray:
    """Velocity of the vortices less that of the sheet at every control point [1].

    Parameters
    ----------
    reach, chord : of the bend, and of the wing [m]
    """
    on_wing = min(reach, chord)
    law = Grid(rows=rows, strips=10).chord_law
    vortices, controls = (chord * (x - 1.0) for x in chord_rows(rows, law))
    borders = chord * (np.concatenate([[0.0], np.cumsum(row_extents(rows, law))]) - 1.0)

    def jump(x: float) -> float:
        u = min(-x / on_wing, 1.0)
        return -on_wing * u * float(bend(u))

    steps = [jump(b) - jump(a) for a, b in pairwise(borders)]
    means = [quad(lambda u: u * bend(u), a, b)[0] / (b - a) * reach for a, b in pairwise(STATIONS)]
    places = [*vortices, *(reach * STATIONS)]
    strengths = [*steps, *np.diff([0.0, *means, 0.0])]
    discrete = [
        sum(s / (point - x) for s, x in zip(strengths, places, strict=True)) for point in controls
    ]
    sheet = [sheet_at(float(point), reach, on_wing) for point in controls]
    return (np.array(discrete) - sheet) / (2.0 * np.pi)


@pytest.mark.parametrize("chord", [0.07, 0.2, 1.3])
def test_corrections_are_the_sheet_less_its_vortices(chord: float) -> None:
    """Of a rectangle, at stations whose bend ends on the wing and beyond its leading edge."""
    lattice = lattice_of(monoplane(1.0, chord), grid=Grid(rows=3, strips=10))
    shape = WakeShape(lattice)
    edge, table = shape.edges[0], shape.corrections[0]
    for strip in (0, table.shape[1] // 2, table.shape[1] - 1):
        reach = float(edge.station_reach[strip])
        np.testing.assert_allclose(
            table[:, strip] * edge.patch.share, missed(reach, chord, 3), rtol=1e-6, atol=3e-7
        )


def test_corrections_have_no_scale() -> None:
    """They are a velocity per velocity: a craft of another size has the same."""
    small, large = (
        WakeShape(lattice_of(biplane(0.3 * k, 0.05 * k, tip=0.2 * k, tips={"end_chord_m": 0.2 * k},
                                     upper={"span_m": k, "root_chord_m": 0.2 * k,
                                            "end_chord_m": 0.2 * k},
                                     lower={"span_m": k, "root_chord_m": 0.2 * k,
                                            "end_chord_m": 0.2 * k}), 30.0)).corrections
        for k in (1.0, 3.0)
    )  # fmt: skip
    for one, other in zip(small, large, strict=True):
        assert np.abs(one).max() > 1e-5
        np.testing.assert_allclose(other, one, rtol=1e-7, atol=1e-10)
