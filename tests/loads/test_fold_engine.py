"""The engine for many folds gives what the plain solve gives, to rounding."""

from concurrent.futures import ThreadPoolExecutor
from dataclasses import asdict

import numpy as np
import pytest
from core_craft import SMALL, biplane, monoplane, settings_of_craft, wing, with_moment_point
from hypothesis import given, settings

from vlm.description.folds import FoldAngles
from vlm.description.loading import load_biplane
from vlm.description.models import Arrangement, Biplane, Tips
from vlm.errors import InputRefused
from vlm.lattice.cellule import Grid
from vlm.lattice.lattice import build_lattice
from vlm.loads.coefficients import coefficients, derivatives
from vlm.loads.craft_loads import CraftLoads, craft_loads
from vlm.loads.fold_engine import FoldEngine
from vlm.loads.state import FlightState

STATE = FlightState(alpha=0.08, beta=0.04, p_hat=0.02, q_hat=0.004, r_hat=-0.03)
TOLERANCE = 1e-10


def plain(craft: Biplane, folds: FoldAngles, grid: Grid = SMALL) -> CraftLoads:
    """The full solve, all panels at once, no mirror."""
    return craft_loads(build_lattice(craft, folds, grid), use_mirror=False)


def close(found: np.ndarray, expected: np.ndarray, tolerance: float = TOLERANCE) -> None:
    scale = np.abs(expected).max(initial=1e-30)
    np.testing.assert_allclose(found, expected, rtol=0.0, atol=tolerance * scale)


def assert_equal_loads(found: CraftLoads, expected: CraftLoads) -> None:
    """All tables, in the same order of patches and panels."""
    assert [p.body for p in found.lattice.patches] == [p.body for p in expected.lattice.patches]
    assert found.lattice.commanded == expected.lattice.commanded
    assert dict(found.lattice.folds) == dict(expected.lattice.folds)
    assert {j.tip for j in found.lattice.joints} == {j.tip for j in expected.lattice.joints}
    for own, other in zip(found.lattice.patches, expected.lattice.patches, strict=True):
        np.testing.assert_allclose(own.nodes, other.nodes, atol=1e-14)
    close(found.circulation, expected.circulation)
    close(found.surface.wrench, expected.surface.wrench)
    close(found.drag, expected.drag)
    close(found.wake.matrix, expected.wake.matrix)
    assert set(found.surface.wrench_rates) == set(expected.surface.wrench_rates)
    for side, rate in expected.surface.wrench_rates.items():
        # Rates divide by small distances once more than the loads do.
        close(found.surface.wrench_rates[side], rate, 10.0 * TOLERANCE)
        close(found.surface.circulation_rates[side], expected.surface.circulation_rates[side], 1e-9)
    a, b = asdict(coefficients(found, STATE)), asdict(coefficients(expected, STATE))
    assert a == pytest.approx(b, rel=TOLERANCE, abs=1e-13)
    c, d = derivatives(found, STATE)["body"], derivatives(expected, STATE)["body"]
    assert c == pytest.approx(d, rel=1e-9, abs=1e-11, nan_ok=True)


@settings(max_examples=25)
@given(settings_of_craft())
def test_engine_equals_the_plain_solve_of_any_craft(setting) -> None:
    """Flare, incidence, taper, sweep, dihedral, camber; tips on either wing or both, linked."""
    craft, folds = setting
    assert_equal_loads(FoldEngine(craft, SMALL).loads(folds), plain(craft, folds))


@pytest.mark.parametrize(
    "folds",
    [(0.0, 0.0), (30.0, 30.0), (30.0, -20.0), (0.0, -60.0), (-75.0, 75.0)],
)
@pytest.mark.parametrize("name", ["winnow", "turnstone", "tideline"])
def test_engine_equals_the_plain_solve_of_shipped_craft(name: str, folds) -> None:
    limits = ["upper.tips.fold_min_deg=-90", "upper.tips.fold_max_deg=90"]
    if name == "turnstone":
        limits += ["lower.tips.fold_min_deg=-90", "lower.tips.fold_max_deg=90"]
    craft = load_biplane(name, limits)
    angles = FoldAngles(*folds)
    try:
        expected = plain(craft, angles)
    except InputRefused:
        with pytest.raises(InputRefused):
            FoldEngine(craft, SMALL).loads(angles)
        return
    assert_equal_loads(FoldEngine(craft, SMALL).loads(angles), expected)


def test_one_engine_gives_many_folds_in_any_order() -> None:
    """Angles come again often enough for everything that is kept for an angle to be used."""
    craft = biplane(stagger=0.05, tips={"flare_deg": 6.0})
    engine = FoldEngine(craft, SMALL)
    angles = (-40.0, 0.0, 25.0, 60.0)
    pairs = [FoldAngles(a, b) for a in angles for b in angles]
    for folds in [*pairs, *reversed(pairs)]:
        assert_equal_loads(engine.loads(folds), plain(craft, folds))


def test_pairs_of_a_joined_and_an_open_side() -> None:
    craft = biplane(gap=0.2, stagger=0.0)
    engine = FoldEngine(craft, SMALL)
    for folds in (FoldAngles(-90.0, -90.0), FoldAngles(-90.0, 30.0), FoldAngles(0.0, -90.0)):
        assert_equal_loads(engine.loads(folds), plain(craft, folds))


def test_tips_that_meet_each_other() -> None:
    lower = {"tips": Tips(span_m=0.2, end_chord_m=0.2, linkage=-1.0)}
    craft = biplane(gap=0.4, lower=lower)
    engine = FoldEngine(craft, SMALL)
    for folds in (FoldAngles(-90.0, -90.0), FoldAngles(-90.0, 10.0)):
        assert_equal_loads(engine.loads(folds), plain(craft, folds))


@pytest.mark.parametrize("often", [None, frozenset()])
def test_a_narrow_gap_is_solved_with_its_own_spacing(often: frozenset[float] | None) -> None:
    craft = biplane(gap=0.202)
    folds = FoldAngles(-90.0, -90.0)
    found, expected = FoldEngine(craft, SMALL, often=often).loads(folds), plain(craft, folds)
    assert found.lattice.grid.span_law == "graded"
    assert_equal_loads(found, expected)


def test_a_craft_about_a_point_off_the_middle_is_solved_plainly() -> None:
    craft = with_moment_point(biplane(), (0.05, 0.04, -0.1))
    for folds in (FoldAngles(20.0, 20.0), FoldAngles(20.0, -30.0)):
        assert_equal_loads(FoldEngine(craft, SMALL).loads(folds), plain(craft, folds))


def test_a_craft_without_tips() -> None:
    loads = FoldEngine(monoplane(), SMALL).loads(FoldAngles())
    assert_equal_loads(loads, plain(monoplane(), FoldAngles()))
    with pytest.raises(InputRefused, match="neither wing has any"):
        FoldEngine(monoplane(), SMALL).loads(FoldAngles(10.0, 10.0))


def test_a_pair_is_solved_though_either_angle_on_both_sides_would_collide() -> None:
    """Tips longer than half the wing cross when both are turned over; one alone does not."""
    craft = monoplane(0.5, 0.1, tips=Tips(span_m=0.4, end_chord_m=0.1))
    with pytest.raises(InputRefused):
        FoldEngine(craft, SMALL).loads(FoldAngles(150.0, 150.0))
    folds = FoldAngles(150.0, 10.0)
    assert_equal_loads(FoldEngine(craft, SMALL).loads(folds), plain(craft, folds))


def test_tips_that_cross_only_as_a_pair_are_refused() -> None:
    craft = monoplane(0.5, 0.1, tips=Tips(span_m=0.45, end_chord_m=0.1))
    engine = FoldEngine(craft, SMALL)
    a, b = 120.0, 165.0
    engine.loads(FoldAngles(a, a))
    with pytest.raises(InputRefused, match=r"tip meets the upper .* tip"):
        engine.loads(FoldAngles(a, b))


def test_collisions_and_limits_are_refused_as_by_the_plain_solve() -> None:
    craft = Biplane(
        title="A long tip",
        upper=wing(tips=Tips(span_m=0.25, end_chord_m=0.2, fold_max_deg=45.0)),
        lower=wing(1.6),
        arrangement=Arrangement(gap_m=0.2),
    )
    engine = FoldEngine(craft, SMALL)
    for folds in (FoldAngles(-80.0, -80.0), FoldAngles(50.0, 0.0), FoldAngles(0.0, -80.0)):
        with pytest.raises(InputRefused) as from_engine:
            engine.loads(folds)
        with pytest.raises(InputRefused) as from_plain:
            plain(craft, folds)
        assert str(from_engine.value) == str(from_plain.value)


def test_mirrored_loads_of_the_engine() -> None:
    craft = biplane(stagger=0.05)
    engine = FoldEngine(craft, SMALL)
    folds = FoldAngles(40.0, -15.0)
    assert_equal_loads(engine.loads(folds).mirrored(), plain(craft, folds.mirrored()))


def test_without_rates_the_loads_are_the_same() -> None:
    craft, folds = biplane(), FoldAngles(40.0, -15.0)
    bare = FoldEngine(craft, SMALL, fold_rates=False).loads(folds)
    assert dict(bare.surface.wrench_rates) == {}
    close(bare.surface.wrench, plain(craft, folds).surface.wrench)


def test_tables_beyond_the_budget_are_dropped_and_made_again() -> None:
    craft = biplane()
    engine = FoldEngine(craft, SMALL, budget=1)
    for angle in (10.0, 20.0, 10.0):
        folds = FoldAngles(angle, -angle)
        assert_equal_loads(engine.loads(folds), plain(craft, folds))


def test_threads_may_share_an_engine() -> None:
    craft = biplane()
    engine = FoldEngine(craft, SMALL)
    pairs = [FoldAngles(a, b) for a in (-30.0, 10.0, 40.0) for b in (-30.0, 10.0, 40.0)]
    with ThreadPoolExecutor(2) as pool:
        results = list(pool.map(engine.loads, pairs))
    for folds, loads in zip(pairs, results, strict=True):
        assert_equal_loads(loads, plain(craft, folds))
