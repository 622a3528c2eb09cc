"""What a log's answer says in words, by hand.

No source but the rules stated in the modules; all numbers are invented.
"""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from vlm.log import answer, next_flight
from vlm.log.difference import Difference, DifferenceBin
from vlm.log.fit import Cause
from vlm.log.wind import Wind
from vlm.plain import plus_minus


@pytest.mark.parametrize(
    ("value", "half", "text"),
    [
        (12.345, 0.678, "12.35 ± 0.68 W"),
        (12.345, 6.78, "12.3 ± 6.8 W"),
        (123.4, 45.6, "123 ± 46 W"),
        (1234.0, 456.0, "1230 ± 460 W"),
        (0.012345, 0.00067, "0.01235 ± 0.00067 W"),
        (-0.0004, 0.1, "0.00 ± 0.10 W"),
        (5.0, 1.0, "5.0 ± 1.0 W"),
        (5.0, 10.0, "5 ± 10 W"),
        (1.23456, 0.0, "1.23 W"),
        (1.23456, np.inf, "1.23 W, interval not known"),
        (np.nan, 1.0, "not known"),
        (1e-9, 2e-9, "0.000000 ± 0.000000 W"),
    ],
)
def test_a_value_is_written_to_two_digits_of_its_half_width(value, half, text):
    assert plus_minus(value, half, "W") == text
    assert plus_minus(value, half) == text.replace(" W", "")


def bin_at(speed, value, half, sign, sure=None):
    interval = (value - half, value + half)
    return DifferenceBin(speed, value, interval, 0.0, (0.0, 0.0), sign, sure or half, np.zeros(1))


def pair(*bins, level=0.9):
    return Difference("a", "b", bins, level, (), ())


def test_a_pair_is_reported_by_its_signs():
    found = answer._of_pair(
        pair(
            bin_at(9.0, -5.0, 1.0, "less"), bin_at(10.0, -4.0, 1.2, "less", 1.5),
            bin_at(11.0, 0.3, 1.0, "unknown"), bin_at(12.0, 6.0, 2.0, "more"),
        )
    )  # fmt: skip
    assert found == [
        "a draws less than b at 9.0 and 10.0 m/s: by 5.0 ± 1.0, 4.0 ± 1.5 W"
        " (sure at 90 % over all speeds together).",
        "a draws more than b at 12.0 m/s: by 6.0 ± 2.0 W (sure at 90 % over all speeds together).",
        "At 11.0 m/s it is not known whether a or b draws less: 0.3 ± 1.0 W"
        " (90 % over all speeds together).",
    ]
    three = answer._of_pair(
        pair(*(bin_at(v, -2.0, 1.5, "unknown", 2.2) for v in (9.0, 10.0, 11.0)))
    )
    assert three == ["At 9.0, 10.0 and 11.0 m/s it is not known whether a or b draws less:"
                     " -2.0 ± 2.2, -2.0 ± 2.2, -2.0 ± 2.2 W (90 % over all speeds"
                     " together)."]  # fmt: skip


def against(difference_W, causes, outside=2, half=2.0, **keys):
    explanation = SimpleNamespace(
        difference_W=difference_W, causes=causes, unexplained_W=0.5, unexplained_half_W=1.0
    )
    rest = [SimpleNamespace(outside=outside, bin_residual_W=np.array([1.0, np.nan, 2.0]))]
    return SimpleNamespace(
        **{"explanation": explanation, "difference_half_width_W": half, "residuals": rest,
           "fit": None, "cross_validation": None,
           **keys}
    )  # fmt: skip


def cause(name, watts, shift=1.0, half=0.5, alike=()):
    return Cause(name, name, shift, watts, half, alike)


@pytest.mark.parametrize(("sign", "word"), [(1.0, "above"), (-1.0, "below")])
def test_causes_that_account_for_a_difference_are_reported(sign, word):
    """Of the same sign, above 8 % of it, three at most."""
    causes = [cause(n, sign * w, -sign) for n, w in
              (("p", 5.0), ("q", -4.0), ("r", 3.0), ("s", 0.81), ("t", 0.85))]  # fmt: skip
    found = answer._prediction(against(sign * 10.0, causes))
    assert found[0] == (
        f"On average the measured power is 10.0 ± 2.0 W {word} the prediction; 2 of 2 bins lie"
        " farther off than both uncertainties allow."
    )
    within = answer._prediction(against(sign * 10.0, causes, half=10.0))
    assert within[0].startswith(
        "On average no difference to the prediction is known: the measured power is"
        f" 10 ± 10 W {word} the prediction; 2 of 2"
    )
    minus = "" if sign > 0.0 else "-"
    assert f"p ({minus}5.00 ± 0.50 W, 1.0 of its standard uncertainties)" in found[1]
    assert ("q (" in found[1], "r (" in found[1], "s (" in found[1]) == (False, True, True)
    assert "t (" not in found[1]
    assert "0.5 ± 1.0 W stay unexplained" in found[1]


def test_a_cause_below_8_percent_and_a_difference_within_the_errors_are_not_reported():
    assert len(answer._prediction(against(10.0, [cause("p", 0.79)]))) == 1
    assert len(answer._prediction(against(10.0, [cause("p", 0.81)]))) == 2
    assert len(answer._prediction(against(10.0, [cause("p", 0.81)], outside=0))) == 1


def test_no_cause_is_named_whose_sign_is_not_known_nor_one_apart_from_its_like():
    open_ = cause("p", 5.0, half=5.0)
    found = answer._prediction(against(10.0, [open_]))
    assert found[1:] == ("Which of the stated uncertainties accounts for that is not known.",)
    found = answer._prediction(against(10.0, [cause("q", 4.0, alike=("r", "s")), open_]))
    assert "p (" not in found[1]
    assert found[2] == "The log alone does not tell q from these: r, s."
    assert len(found) == 3


@pytest.mark.parametrize(("helps", "word"), [(True, "better than"), (False, "no better than")])
def test_whether_a_fit_helps_is_reported(helps, word):
    one = SimpleNamespace(label="area", interval=(0.0212, 0.0298), unit="m^2", nominal=0.022)
    fit = SimpleNamespace(estimates=[one])
    check = SimpleNamespace(helps=helps)
    found = answer._prediction(against(1.0, [], fit=fit, cross_validation=check))
    assert found[-1].startswith("The fit gives area 0.0212 to 0.0298 m^2 (file 0.022)")
    assert f"predicts unseen segments {word} the file" in found[-1]


def test_wind_in_words():
    made = {"points": 9, "spread_deg": 180.0, "source": "pitot", "findings": ()}
    wind = Wind(-3.0, 4.0, 0.3, 0.4, 0.5, 0.2, 0.02, 0.01, np.nan, np.nan, **made)
    first, pitot = answer._air(wind)
    # Half-width of the speed: the root mean square of both sides, hypot(0.3, 0.4)/sqrt(2) = 0.354.
    assert first == ("Wind: 5.00 ± 0.35 m/s from 307 deg (air moves -3.00 ± 0.30 m/s north,"
                     " 4.00 ± 0.40 m/s east).")  # fmt: skip
    assert pitot.startswith("The pitot reads 0.50 ± 0.20 m/s and 2.0 ± 1.0 % too much")
    calm = answer._air(replace(wind, north_half_m_s=6.0, east_half_m_s=6.0, offset_m_s=np.nan))
    assert calm == ("No wind is seen: -3.0 ± 6.0 m/s north, 4.0 ± 6.0 m/s east.",)


def test_what_to_fly_next():
    power = {"a": SimpleNamespace(bins=[SimpleNamespace(segments=2), SimpleNamespace(segments=1)])}
    result = SimpleNamespace(binned=power)
    [again] = answer._next(result, [])
    assert again == "Next: fly each speed of a again; most were flown once."
    power["a"].bins[1].segments = 2
    assert answer._next(result, []) == ()
    assert "half a minute" in answer._next(SimpleNamespace(binned={}), [])[0]
    shut = next_flight.Proposal("a", "b", 9.0, 1.0, 2.0, None, np.nan, "too far")
    open_ = next_flight.Proposal("a", "b", 10.0, 1.0, 2.0, 1, 4.0, "")
    [told] = answer._next(result, [shut, open_])
    assert told == (
        "Next: a against b at 10.0 m/s: 1 more leg of each, by turns, out and back"
        " (4 min), if the difference stays what it is (1 more open signs: --full)."
    )
    assert answer._next(result, [shut]) == ("Next: a against b at 9.0 m/s: too far.",)


def test_stretches_of_one_sign_are_one_line():
    bins = (bin_at(9.0, -5, 1, "less"), bin_at(10.0, -4, 1, "less"), bin_at(11.0, 0, 1, "unknown"))
    assert pair(*bins).sentences() == [
        "from 9.0 to 10.0 m/s: a draws less than b", "at 11.0 m/s: which draws less is not known",
    ]  # fmt: skip
    assert "never flown at the same airspeed" in pair().sentences()[0]
