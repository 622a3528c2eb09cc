"""The highest thrust at rest, by hand: shares that balance pitch, and which limit comes first.

Statics, and a rotor whose power is 2 T^(3/2) W (momentum theory's form; from memory); all invented.
"""

from types import SimpleNamespace

import numpy as np
import pytest

from vlm.study.check import hover
from vlm.study.check.hover import Hover, balanced_shares, hover_limits


@pytest.fixture(autouse=True)
def _known_power(monkeypatch):
    monkeypatch.setattr(
        hover, "hover_state",
        lambda rotor, thrust, density, folder: SimpleNamespace(
            power=np.array([2.0 * thrust**1.5]) if density == pytest.approx(1.225) else None),
    )  # fmt: skip
    monkeypatch.setattr(hover, "electrical_power", lambda drive, shafts: sum(shafts) / 0.8 + 5.0)


def rotor(
    name="a", place=(0.0, 0.0, 0.0), axis=(-1.0, 0.0, 0.0), least=-1.0, most=None, power=None
):
    return SimpleNamespace(
        name=name, position_m=place, direction=axis, thrust_min_N=least, thrust_max_N=most,
        power_max_W=power,
    )  # fmt: skip


def craft(*rotors, power=None, propulsion=True):
    drive = SimpleNamespace(power_max_W=power) if propulsion else None
    return SimpleNamespace(rotors=rotors, propulsion=drive, folder=None)


@pytest.mark.parametrize(
    ("heights", "centre", "shares"),
    [
        ((0.1, -0.1), 0.0, (0.5, 0.5)),
        ((0.1, -0.1), 0.05, (0.75, 0.25)),
        ((0.1, -0.1), -0.1, (0.0, 1.0)),
        ((0.1, 0.1, -0.2), 0.0, (1 / 3, 1 / 3, 1 / 3)),
        ((0.1, 0.1, -0.1, -0.1), 0.05, (0.375, 0.375, 0.125, 0.125)),
    ],
)
def test_shares_sum_to_one_and_balance_pitch(heights, centre, shares):
    """Levers: sum of shares by the height over the centre of gravity vanishes."""
    one = craft(*(rotor(place=(0.0, 0.0, height)) for height in heights))
    found = balanced_shares(one, np.array([0.0, 0.0, centre]))
    np.testing.assert_allclose(found, shares, atol=1e-9)


def test_rotors_of_one_height_share_alike():
    one = craft(rotor(place=(0.0, -0.2, 0.1)), rotor(place=(0.0, 0.2, 0.1)))
    np.testing.assert_allclose(balanced_shares(one, np.zeros(3)), 0.5)


@pytest.mark.parametrize(
    ("given", "share", "name", "thrust"),
    [
        ({"most": 6.0}, 0.25, "highest thrust of rotor a", 24.0),
        ({"power": 16.0}, 0.25, "power of rotor a", 16.0),
        ({"least": -2.0}, -0.25, "lowest thrust of rotor a", 8.0),
        ({"most": 6.0, "power": 16.0}, 0.0, None, None),
        ({}, 0.25, None, None),
    ],
)
def test_each_limit_is_reached_at_its_share_of_the_thrust(given, share, name, thrust):
    found = hover_limits(craft(rotor(**given)), np.array([share]))
    assert found == ({} if name is None else {name: pytest.approx(thrust)})


def test_the_electrical_power_is_that_of_all_rotors():
    """Two rotors of 4 N each draw 2 x 16/0.8 + 5 = 45 W; one that does not pull draws none."""
    both = craft(rotor("a"), rotor("b"), power=45.0)
    assert hover_limits(both, np.array([0.5, 0.5])) == {"electrical power": pytest.approx(8.0)}
    one = craft(rotor("a"), rotor("b"), power=25.0)
    found = hover_limits(one, np.array([1.0, 0.0]))
    assert found == {"electrical power": pytest.approx(4.0)}
    assert hover_limits(craft(rotor("a"), power=None), np.array([1.0])) == {}
    assert hover_limits(craft(rotor("a"), propulsion=False), np.array([1.0])) == {}
    # A limit below what is drawn without thrust; one far beyond any.
    assert hover_limits(craft(rotor("a"), power=4.0), np.array([1.0])) == {"electrical power": 0.0}
    assert hover_limits(craft(rotor("a"), power=1e9), np.array([1.0])) == {}


@pytest.mark.parametrize(
    ("thrust", "possible"),
    [(10.31, True), (10.29, None), (9.71, None), (9.69, False), (None, None)],
)
def test_three_per_cent_of_the_weight_are_left_open(thrust, possible):
    assert Hover(10.0, thrust, "limit", 50.0).possible is possible
