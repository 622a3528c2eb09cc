"""The best setting is decided by paired differences: common errors cancel, noise is no difference.

Numbers are invented; the expected answers follow from the rule by hand.
"""

import numpy as np
import pytest

from vlm.flight.trim.special_speeds import NOT_REACHED
from vlm.show.tables.power_best import best_sentences
from vlm.study.power.best import best_setting, speed_differences

KEYS = ("least_power_W", "slowest_on_wings_m_s", "fastest_m_s")


def document(values: dict, shared: float, own: float, *, draws: int = 400) -> dict:
    """Settings whose draws share one error of the size ``shared`` and have one each, ``own``."""
    random = np.random.default_rng(5)
    common = shared * random.standard_normal(draws)
    specials = {name: dict.fromkeys(KEYS, value) for name, value in values.items()}
    samples = {
        name: {key: value + common + own * random.standard_normal(draws) for key in KEYS}
        for name, value in values.items()
    }
    known = shared > 0.0 or own > 0.0
    one = {
        name: {
            "speeds": special | {"least_power_speed_m_s": 11.0, "fastest_limit": "thrust"},
            "speed_intervals": {key: tuple(np.percentile(samples[name][key], [5, 95])) for key in
                                KEYS} if known else {},
        }
        for name, special in specials.items()
    }  # fmt: skip
    return {
        "configurations": one,
        "airspeed_m_s": [5.0, 11.0, 30.0],
        "speed_differences": speed_differences(
            specials, samples if known else {}, 90.0 if known else None
        ),
        "uncertainty": {} if known else None,
    }


def test_what_two_settings_err_by_alike_cancels() -> None:
    """Each is known to ± 8 only, their difference of 1 to ± 0.2: one is best."""
    found = document({"open": 27.0, "dash": 28.0}, shared=5.0, own=0.07)
    best = best_setting(found, "fastest_m_s")
    assert best.name == "dash"
    assert best.alike == ()
    assert best.rivals[0].difference == pytest.approx(-1.0)
    assert best.rivals[0].half_width == pytest.approx(1.645 * 0.07 * 2**0.5, rel=0.15)
    assert "Fastest with dash: 28.0 ± 8.2 m/s" in best_sentences(found)[1]


def test_a_difference_within_its_error_is_none() -> None:
    """1.0 against an own error of 1 each, 1.6 x 1.4 x 1 = 2.3 for the difference."""
    found = document({"open": 27.0, "dash": 28.0}, shared=0.0, own=1.0)
    best = best_setting(found, "fastest_m_s")
    assert [one.name for one in best.alike] == ["open"]
    assert "no difference known between dash and open (1.0 ± 2." in best_sentences(found)[1]


def test_what_search_and_lattice_leave_open_is_no_difference_either() -> None:
    """0.1 of 28 is under half a per cent, however sure the draws are."""
    found = document({"open": 27.9, "dash": 28.0}, shared=5.0, own=0.001)
    assert [one.name for one in best_setting(found, "fastest_m_s").alike] == ["open"]


def test_without_intervals_a_clear_difference_is_still_named() -> None:
    found = document({"open": 27.0, "dash": 28.0}, shared=0.0, own=0.0)
    assert best_setting(found, "fastest_m_s").alike == ()
    assert best_setting(found, "least_power_W").name == "open"
    assert "1.0 m/s less with open" in best_sentences(found)[1]


def test_a_difference_that_few_draws_have_is_not_known() -> None:
    found = document({"open": 27.0, "dash": 28.0}, shared=1.0, own=0.01)
    row = found["speed_differences"][0]
    row["fastest_m_s_interval"] = None
    assert "not known whether dash and open differ" in best_sentences(found)[1]


@pytest.mark.parametrize(
    ("beyond", "words"),
    [
        ({"dash"}, "Fastest with dash: beyond 30.0 m/s, the highest asked for; open 27.0 ± "),
        (
            {"dash", "half"},
            "Fastest: not known which of dash and half, each beyond 30.0 m/s, the highest asked"
            " for; open 27.0 ± ",
        ),
    ],
)
def test_one_that_flies_faster_than_was_asked_is_not_passed_over(
    beyond: set[str], words: str
) -> None:
    """Its fastest is not known: the fastest of the others is not the fastest of all."""
    found = document({"open": 27.0, "dash": 28.0, "half": 26.0}, shared=1.0, own=0.01)
    for name in beyond:
        speeds = found["configurations"][name]["speeds"]
        speeds["fastest_m_s"], speeds["fastest_limit"] = None, NOT_REACHED
    assert best_setting(found, "fastest_m_s") is None
    assert words in best_sentences(found)[1]


def test_none_is_fastest_where_all_fly_faster_than_was_asked() -> None:
    found = document({"open": 27.0, "dash": 28.0}, shared=1.0, own=0.01)
    for one in found["configurations"].values():
        one["speeds"]["fastest_m_s"], one["speeds"]["fastest_limit"] = None, NOT_REACHED
    assert len(best_sentences(found)) == 1


def test_least_power_at_an_end_of_the_speeds_says_so() -> None:
    found = document({"open": 27.0, "dash": 60.0}, shared=1.0, own=0.01)
    found["configurations"]["open"]["speeds"]["least_power_speed_m_s"] = 5.0
    assert "5.00 m/s, an end of the speeds asked for" in best_sentences(found)[0]


@pytest.mark.parametrize(("unknown_to", "said"), [(9.01, True), (8.0, False), (None, False)])
def test_least_power_where_stall_begins_to_be_known_says_so(
    unknown_to: float | None, said: bool
) -> None:
    """Wings without sections: that it is the least rests on not looking at slower ones."""
    found = document({"open": 27.0, "dash": 60.0}, shared=1.0, own=0.01)
    speeds = found["configurations"]["open"]["speeds"]
    speeds["least_power_speed_m_s"], speeds["stall_not_known_to_m_s"] = 9.0, unknown_to
    assert ("slower it is not known whether it is stalled" in best_sentences(found)[0]) is said
