"""Loads read off a chart of the folds, against direct solves at folds that the chart never saw."""

from functools import cache

import numpy as np
import pytest

from vlm.chart.fold_points import FoldPoints
from vlm.description import FoldAngles, load_biplane
from vlm.flight.craft.folding_craft import FoldingCraft
from vlm.flight.craft.level import level_flight
from vlm.lattice.cellule import Grid
from vlm.loads.coefficients import coefficients, derivatives
from vlm.loads.craft_loads import GeneralLoads
from vlm.loads.fold_engine import FoldEngine
from vlm.loads.loads_chart import COEFFICIENTS, ChartedLoads
from vlm.loads.state import FlightState
from vlm.loads.stream_tables import StreamTables

GRID = Grid(2, 6)
WITHIN = 1e-4
"""Of a quantity's largest value: what the chart promises."""
STATE = FlightState(alpha=np.radians([-2.0, 3.0, 9.0]))
PLACES = np.random.default_rng(14).uniform(size=(12, 2))


@cache
def engine(name: str, charted: str = "all folds") -> FoldEngine:
    return FoldEngine(load_biplane(name), GRID, fold_rates=False, charted=charted)  # type: ignore[arg-type]


@cache
def direct(name: str) -> FoldEngine:
    return FoldEngine(load_biplane(name), GRID, fold_rates=False)


def stretch(name: str) -> tuple[float, float]:
    chart = engine(name)._chart
    assert chart is not None
    assert chart.free_deg is not None
    return chart.free_deg


def values(loads: GeneralLoads, state: FlightState = STATE) -> dict[str, np.ndarray]:
    found = coefficients(loads, state)
    slopes = derivatives(loads, state)["body"]
    known = {name: np.asarray(getattr(found, name)) for name in COEFFICIENTS}
    return known | {name: np.asarray(slopes[name]) for name in ("Cl_beta", "Cn_beta", "Cl_p")}


@pytest.mark.parametrize("name", ["tideline", "winnow", "turnstone"])
def test_any_pair_of_folds_is_read_as_it_is_solved(name: str) -> None:
    """A dozen pairs over the whole stretch, all quantities, to 1e-4 of their largest value."""
    low, high = stretch(name)
    worst: dict[str, float] = {}
    size: dict[str, float] = {}
    for left, right in low + PLACES * (high - low):
        folds = FoldAngles(float(left), float(right))
        read = engine(name).loads(folds)
        assert isinstance(read, ChartedLoads)
        guess, truth = values(read), values(direct(name).loads(folds))
        for key, value in truth.items():
            miss = float(np.max(np.abs(guess[key] - value)))
            worst[key] = max(worst.get(key, 0.0), miss)
            size[key] = max(size.get(key, 0.0), float(np.max(np.abs(value))))
    assert {key: worst[key] / size[key] for key in worst if worst[key] > WITHIN * size[key]} == {}


def test_errors_reported_are_of_the_size_of_those_made() -> None:
    low, high = stretch("tideline")
    for left, right in low + PLACES[:6] * (high - low):
        folds = FoldAngles(float(left), float(right))
        read = engine("tideline").loads(folds)
        guess, truth = values(read), values(direct("tideline").loads(folds))
        for key in ("CL", "Cl", "Cm", "Cn", "Cl_beta"):
            assert np.max(np.abs(guess[key] - truth[key])) <= 10.0 * read.errors[key] + 1e-9
    assert 0.0 < read.errors["Cl"] < WITHIN


def test_circulation_wake_and_hinges_are_read_too() -> None:
    folds = FoldAngles(31.0, -17.0)
    read, solved = engine("tideline").loads(folds), direct("tideline").loads(folds)
    wakes = [loads.flow(0.08, 0.03) for loads in (read, solved)]
    assert np.allclose(wakes[0][1], wakes[1][1], atol=1e-4 * np.abs(wakes[1][1]).max())
    assert np.allclose(wakes[0][0].direction, wakes[1][0].direction)
    for one, other in zip(wakes[0][0].nodes, wakes[1][0].nodes, strict=True):
        assert np.allclose(one, other)
    assert np.array_equal(read.lattice.controls(), solved.lattice.controls())


def test_folds_beside_contact_and_pairs_off_the_line_are_solved() -> None:
    low, _ = stretch("tideline")
    for folds in (FoldAngles(-90.0, -90.0), FoldAngles(-90.0, 10.0), FoldAngles(low - 1.0, 0.0)):
        assert isinstance(engine("tideline").loads(folds), StreamTables)
    line = engine("tideline", "like folds")
    assert isinstance(line.loads(FoldAngles(12.0, 12.0)), ChartedLoads)
    assert isinstance(line.loads(FoldAngles(12.0, 11.0)), StreamTables)


def test_the_mirror_image_of_a_reading_is_the_reading_of_the_mirror_image() -> None:
    one = engine("tideline").loads(FoldAngles(25.0, -40.0))
    other = values(engine("tideline").loads(FoldAngles(-40.0, 25.0)))
    for key, value in values(one.mirrored()).items():
        assert np.allclose(value, other[key], atol=1e-12)
    for key in ("CL", "Cm", "Cl_beta"):
        assert np.allclose(values(one)[key], other[key], atol=1e-8)
    assert np.allclose(values(one)["Cl"], -other["Cl"], atol=1e-8)


def test_level_flight_on_the_chart_is_that_of_solves() -> None:
    craft = load_biplane("tideline")
    charted = FoldingCraft(craft, GRID, charted="all folds")
    solved = FoldingCraft(craft, GRID)
    for folds in (FoldAngles(20.0, -20.0), FoldAngles(-50.0, 5.0)):
        read, truth = (level_flight(one.at(folds), 13.0, 1.225) for one in (charted, solved))
        assert read is not None
        assert truth is not None
        assert read.alpha == pytest.approx(truth.alpha, rel=1e-4)
        assert np.allclose(read.wrench, truth.wrench, atol=1e-4 * np.abs(truth.wrench).max())


def test_sparse_points_are_exact_for_polynomials() -> None:
    """Products up to half the points' degree, and any polynomial of one fold alone; Smolyak's
    construction on three levels keeps exactly these."""
    where = FoldPoints.between(-80.0, 60.0, 13, pairs=True)

    def function(left: np.ndarray, right: np.ndarray) -> np.ndarray:
        x, y = left / 80.0, right / 80.0
        return np.asarray(x**5 * y**6 - 2.0 * x**12 + y**11 * x + 0.3)

    known = function(*where.settings.T)
    for left, right in ((-80.0, 60.0), (13.0, -44.4), (59.0, 7.0)):
        weights = where.weights(left, right)
        assert weights @ known == pytest.approx(
            function(np.array(left), np.array(right)), abs=1e-11
        )
    assert len(where.settings) == 85
    assert len(FoldPoints.between(-80.0, 60.0, 13, pairs=False).settings) == 13


@pytest.mark.parametrize("apart", [30.0, -24.0])
def test_a_roll_command_about_any_fold_is_read_as_it_is_solved(apart: float) -> None:
    """The line of folds that far apart, at places that the chart never saw; off it, solved."""
    craft = load_biplane("winnow")
    line = FoldEngine(craft, GRID, fold_rates=False, charted="like folds", apart_deg=apart)
    chart = line._chart
    assert chart is not None
    assert chart.free_deg is not None
    low, high = chart.free_deg[0] - min(apart, 0.0), chart.free_deg[1] - max(apart, 0.0)
    for left in low + PLACES[:6, 0] * (high - low):
        folds = FoldAngles(float(left), float(left + apart))
        read = line.loads(folds)
        assert isinstance(read, ChartedLoads)
        guess, truth = values(read), values(direct("winnow").loads(folds))
        for key in ("CL", "Cl", "Cm", "Cn"):
            size = np.abs(truth[key]).max() + 1e-3
            assert np.max(np.abs(guess[key] - truth[key])) <= WITHIN * max(size, 0.05), key
    assert not isinstance(line.loads(FoldAngles(low, low)), ChartedLoads)
