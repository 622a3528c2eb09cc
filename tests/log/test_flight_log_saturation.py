"""Readings at the end of a sensor's range, by hand.

No source but definitions, given beside each check; all numbers are invented.
"""

import numpy as np
import pytest
from test_flight_log_segments import made_log

from vlm.log import saturation
from vlm.log.steady import CRITERIA, Segment, SteadyFlight


def segments_of(*spans):
    made = [
        Segment("a", 0, first, last, 0.5 * first, 0.5 * last + 0.5, 0, 0, 1, 10.0, 100.0, 1.2, 0.0)
        for first, last in spans
    ]
    return tuple(made)


def flight(count, *spans):
    segment_of = np.full(count, -1)
    for number, (first, last) in enumerate(spans):
        segment_of[first : last + 1] = number
    verdict = np.where(segment_of < 0, CRITERIA.index("climb"), 0)
    none = np.zeros(count)
    return SteadyFlight(segments_of(*spans), verdict, segment_of, none, none)


def currents(piled, top=20.0):
    """Two stretches of evenly spread currents about 15 and 17 A, one with its end piled up."""
    low = 15.0 + np.linspace(-3.0, 3.0, 200)
    high = 17.0 + np.linspace(-3.4, 2.9, 200)
    high[:piled] = top - np.linspace(0.0, 0.05, piled)
    return np.concatenate((low, [np.nan] * 5, high))


SPANS = ((0, 199), (205, 404))


@pytest.mark.parametrize(("piled", "found"), [(0, False), (30, False), (120, True)])
def test_a_pile_at_the_highest_reading_is_the_end_of_a_range(piled, found):
    """More than half as many again as in the next three steps; a step is a quarter of the usual
    scatter, here about 0.1 of the highest reading."""
    values = currents(piled)
    ratios = [np.std(part) / np.mean(part) for part in (values[:200], values[205:])]
    width = 0.25 * np.median(ratios) * 20.0
    near = np.nan_to_num(values) > 20.0 - width
    below = np.nan_to_num(values) > 20.0 - 4.0 * width
    assert (near.sum() > 1.5 * (below.sum() - near.sum())) == found
    at_end = saturation._at_the_end(values, flight(405, *SPANS))
    np.testing.assert_array_equal(at_end, near if found else np.zeros(405, dtype=bool))


@pytest.mark.parametrize(
    ("count", "piled", "found"),
    [(40, 10, False), (40, 11, True), (2000, 20, False), (2000, 21, True), (2000, 11, False)],
)
def test_few_readings_are_no_pile(count, piled, found):
    """Of readings from 10 to 12 and some at 20: more than ten, and more than a hundredth."""
    values = np.r_[np.linspace(10.0, 12.0, count - piled), np.linspace(19.99, 20.0, piled)]
    at_end = saturation._at_the_end(values, flight(count, (0, count - 1)))
    assert at_end.sum() == (piled if found else 0)


@pytest.mark.parametrize(("digit", "found"), [(0.05, True), (1.0, False)])
def test_a_pile_that_coarse_digits_make_is_none(digit, found):
    values = np.round(currents(120) / digit) * digit
    assert saturation._at_the_end(values, flight(405, *SPANS)).any() == found


@pytest.mark.parametrize("values", [np.full(405, np.nan), np.full(405, 12.0)])
def test_readings_that_do_not_wander_have_no_end(values):
    assert not saturation._at_the_end(values, flight(405, *SPANS)).any()


@pytest.mark.parametrize("size", [1e-3, 1e4])
def test_a_pile_is_one_in_any_unit(size):
    """Of the currents above in kA and in units of 0.1 mA."""
    values, steady = currents(120), flight(405, *SPANS)
    alike = [saturation._at_the_end(scale * values, steady) for scale in (1.0, size)]
    assert alike[0].any()
    np.testing.assert_array_equal(*alike)


def test_readings_outside_segments_are_no_pile():
    values = currents(0)
    values[200:205] = 30.0
    assert not saturation._at_the_end(values, flight(405, *SPANS)).any()


def test_a_segment_with_saturated_readings_is_taken_out_and_the_others_are_numbered_again():
    spans = ((0, 199), (205, 404), (410, 609))
    values = np.concatenate((currents(120), [np.nan] * 5, currents(0)[:200]))
    steady = flight(610, *spans)
    log = made_log(np.full(610, 10.0), current=values)
    left, [finding] = saturation.without_saturated(log, steady)
    assert [(s.first, s.last) for s in left.segments] == [spans[0], spans[2]]
    assert left.segment_of.tolist() == [0] * 200 + [-1] * 210 + [1] * 200
    assert {CRITERIA[v] for v in left.verdict[205:405]} == {"no reading"}
    assert {CRITERIA[v] for v in left.verdict[200:205]} == {"climb"}
    assert not left.verdict[:200].any()
    assert not left.verdict[410:].any()
    assert not steady.verdict[205:405].any()
    assert (finding.code, finding.value) == ("log-saturated", 1.0)
    assert "current pile up below 20 A" in finding.what


@pytest.mark.parametrize(("piled", "kept"), [(20, 1), (21, 0)])
def test_up_to_a_fiftieth_of_a_segment_may_lie_at_the_end(piled, kept):
    values = np.r_[np.linspace(10.0, 12.0, 1000 - piled), np.linspace(19.99, 20.0, piled)]
    log = made_log(np.full(1000, 10.0), power=values)
    left, found = saturation.without_saturated(log, flight(1000, (0, 999)))
    assert (len(left.segments), len(found)) == (kept, 1 - kept)
    assert all("power pile up below 20 W" in one.what for one in found)
