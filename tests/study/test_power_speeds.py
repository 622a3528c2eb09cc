"""Speeds that matter of a power curve: their intervals, and a gap among the allowed ones."""

import numpy as np
import pytest

from vlm.show.tables.power import _setting_sentence
from vlm.study.power.study import _centred

SPEEDS = np.arange(0.0, 10.1, 0.5)


def test_samples_of_another_least_value_are_not_shifted_to_the_exact_one() -> None:
    """Two least values nearly alike: most samples have theirs at 8 m/s, the exact one is at 3.

    A grid errs by no more than its spacing; samples that are shifted farther would stand at
    airspeeds that no sample has, below hover even.
    """
    samples = np.concatenate([np.linspace(2.5, 3.5, 40), np.linspace(7.5, 8.5, 60)])
    found = _centred(samples, 3.0, SPEEDS)
    assert found.min() >= 2.0
    assert found.max() <= 9.0
    assert found.min() <= 3.0 <= found.max()


def test_samples_around_the_exact_speed_are_centred_at_it() -> None:
    """Within the grid's spacing the median moves to the exact speed, and none below hover."""
    found = _centred(np.linspace(2.8, 3.8, 11), 3.1, SPEEDS)
    assert np.median(found) == pytest.approx(3.1)
    assert _centred(np.linspace(0.0, 1.0, 11), 0.2, SPEEDS).min() == 0.0


def test_powers_are_centred_at_the_exact_one_whatever_the_grid() -> None:
    """A power errs by what the samples' table does; where nothing is known nothing moves."""
    samples = np.array([90.0, 100.0, 120.0, np.nan])
    assert _centred(samples, 130.0, None)[:3].tolist() == [120.0, 130.0, 150.0]
    assert _centred(samples, float("nan"), None)[:3].tolist() == [90.0, 100.0, 120.0]
    assert np.isnan(_centred(np.full(3, np.nan), 130.0, None)).all()


def document(limits: list[str]) -> dict:
    speeds = {
        "least_power_W": None, "fastest_m_s": 8.0, "fastest_limit": "power",
        "fastest_by_pitch_trim": False, "slowest_m_s": 6.0, "slowest_limit": "lowest thrust",
        "slowest_by_pitch_trim": False, "stall_not_known_to_m_s": None,
    }  # fmt: skip
    one = {
        "electrical_power_W": [100.0] * len(limits), "limit": limits, "speeds": speeds,
        "driven_rotors": [],
    }  # fmt: skip
    speeds_m_s = [8.0 - 2.0 * place for place in range(len(limits))][::-1]
    return {"airspeed_m_s": speeds_m_s, "configurations": {"open": one}}


def test_where_stall_is_not_known_the_sentence_says_so() -> None:
    one = document(["", "", ""])
    assert "not known" not in _setting_sentence(one, "open")
    one["configurations"]["open"]["speeds"]["stall_not_known_to_m_s"] = 8.347
    assert "not known up to 8.35 m/s whether it is stalled" in _setting_sentence(one, "open")


@pytest.mark.parametrize(
    ("asked", "least", "words"),
    [
        ([9.0, 12.0], 12.0, "at 12.0 m/s (the highest asked for)"),
        ([9.0, 12.0], 9.01, "m/s (the lowest asked for)"),
        ([9.0, 12.0], 10.0, "at 10.0 m/s;"), ([0.0, 12.0], 0.0, "at 0 m/s;"),
    ],
)  # fmt: skip
def test_a_least_power_at_an_end_of_the_airspeeds_says_so(asked, least, words) -> None:
    one = document(["", ""])
    one["airspeed_m_s"] = asked
    speeds = one["configurations"]["open"]["speeds"]
    speeds |= {"least_power_W": 50.0, "least_power_speed_m_s": least, "best_range_speed_m_s": 10.0}
    assert words in _setting_sentence(one, "open")


def test_where_no_airspeed_asked_for_is_allowed_the_sentence_says_so() -> None:
    one = document(["power", "lowest thrust"])
    one["configurations"]["open"]["speeds"] |= {"fastest_m_s": None, "slowest_m_s": None}
    assert "no airspeed asked for is allowed (power)" in _setting_sentence(one, "open")


def test_a_gap_among_allowed_airspeeds_is_no_slowest() -> None:
    """The limits of every airspeed stand in the same document."""
    gap = document(["", "", "lowest thrust", "", ""])
    assert "forbidden from 2.00 to 6.00 m/s (lowest thrust)" in _setting_sentence(gap, "open")
    none = document(["power", "power", "lowest thrust", "", ""])
    assert "slowest 6.00 m/s (lowest thrust)" in _setting_sentence(none, "open")


def test_every_gap_among_allowed_airspeeds_is_named() -> None:
    """From -4 to 8 m/s in steps of 2, as the documents' limits say."""
    limits = ["power", "", "stall", "", "lowest thrust", "", ""]
    said = _setting_sentence(document(limits), "open")
    assert (
        "forbidden below -2.00 m/s (power), from -2.00 to 2.00 m/s (stall) and from 2.00 to"
        " 6.00 m/s (lowest thrust)"
    ) in said
    lost = document(["", "", "", "", "lowest thrust", "", ""])
    lost["configurations"]["open"]["electrical_power_W"][1] = None
    said = _setting_sentence(lost, "open")
    assert "forbidden from -4.00 to 0 m/s (no trim) and from 2.00 to 6.00 m/s (lowest" in said


def test_a_setting_that_cannot_hover_says_so() -> None:
    """The limit at rest stands in the same document; a tail-sitter takes off so."""
    assert "no hover (power)" in _setting_sentence(document(["power", "", "", "", ""]), "open")
    assert "no hover" not in _setting_sentence(document([""] * 5), "open")
