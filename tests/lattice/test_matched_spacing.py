"""The "matched" spacing law: strips on both sides of every corner equally wide.

A box wing whose sides are 0.2 spans high has a best span efficiency of 1.47167360 (Prandtl 1924,
closed form; digits derived from it).
"""

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from vlm.description.folds import FoldAngles
from vlm.description.models import Arrangement, Biplane, Tips, Wing
from vlm.lattice.cellule import Grid, build_cellule
from vlm.lattice.lattice import build_lattice
from vlm.lattice.spacing import span_stations
from vlm.loads.craft_loads import craft_loads

BOX = 1.47167360
LAWS = ("cosine", "matched")


def box_craft(inner_span: float = 1.0, gap: float = 0.2, tip: float | None = None) -> Biplane:
    chord = 0.1 * inner_span
    wing = Wing(span_m=inner_span, root_chord_m=chord, end_chord_m=chord)
    tips = Tips(span_m=tip or gap, end_chord_m=chord)
    return Biplane(
        title="A box", upper=wing.model_copy(update={"tips": tips}), lower=wing,
        arrangement=Arrangement(gap_m=gap), reference={"span_m": inner_span},
    )  # fmt: skip


@given(st.integers(3, 40), st.floats(0.5, 60.0), st.sampled_from([(True, True), (False, True)]))
def test_edges_and_stations_alternate_whatever_the_ideal_number(
    count: int, ideal: float, ends: tuple[bool, bool]
) -> None:
    edges, stations = span_stations(
        count, "matched", dense_start=ends[0], dense_end=ends[1], ideal=ideal
    )
    assert edges[0] == 0.0
    assert edges[-1] == 1.0
    assert np.all(np.diff(edges) > 0.0)
    assert np.all((edges[:-1] < stations) & (stations < edges[1:]))


def test_a_whole_ideal_number_is_the_cosine_law() -> None:
    for ends in ((True, True), (False, True), (True, False)):
        kind = {"dense_start": ends[0], "dense_end": ends[1]}
        for one, two in zip(
            span_stations(9, "matched", ideal=9.0, **kind),
            span_stations(9, "cosine", **kind),
            strict=True,
        ):
            np.testing.assert_allclose(one, two, atol=1e-15)


def end_widths(law: str, strips: int) -> list[float]:
    """Ratios of the strips' widths at the two corners of a box craft."""
    craft = box_craft(0.84, 0.36)
    patches = build_cellule(craft, Grid(2, strips, span_law=law)).patches  # type: ignore[arg-type]
    upper, lower, tip = patches[:3]
    assert (upper.wing, lower.wing, tip.part) == ("upper", "lower", "tip")
    return [tip.width[0] / upper.width[-1], tip.width[-1] / lower.width[-1]]


def test_strips_at_corners_are_equally_wide() -> None:
    """To second order of the strips' number: 2 % at 20 strips, 0.5 % at 40."""
    for strips, allowed in ((20, 0.02), (24, 0.02), (31, 0.01), (40, 0.005)):
        assert end_widths("matched", strips) == pytest.approx([1.0, 1.0], abs=allowed)
    assert max(end_widths("cosine", 20)) > 1.2 or min(end_widths("cosine", 20)) < 0.8


@pytest.mark.parametrize("strips", [9, 10, 11, 13, 16, 20, 40])
def test_prandtl_box_efficiency_at_any_number_of_strips(strips: int) -> None:
    """Within 0.06 % at 9 strips, falling with their number to the power 2.5 (8/3 observed)."""
    lattice = build_lattice(box_craft(), FoldAngles(-90, -90), Grid(2, strips, span_law="matched"))
    best = craft_loads(lattice, fold_rates=False).best_efficiency
    assert best == pytest.approx(BOX, rel=6e-4 * (9.0 / strips) ** 2.5)


def test_matched_box_converges_evenly() -> None:
    """Errors at neighbouring numbers of strips differ little: they can be extrapolated."""
    scatter = {}
    for law in LAWS:
        errors = []
        for strips in range(14, 22):
            grid = Grid(2, strips, span_law=law)  # type: ignore[arg-type]
            lattice = build_lattice(box_craft(), FoldAngles(-90, -90), grid)
            found = craft_loads(lattice, fold_rates=False).best_efficiency
            errors.append(found / BOX - 1.0)
        scatter[law] = max(abs(b - a) for a, b in pairwise(errors))  # neighbours
    assert scatter["matched"] < 0.05 * scatter["cosine"]
