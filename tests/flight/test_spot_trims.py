"""Trims found on their own equal those of the branch that is followed from hover."""

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from power_craft import SMALL, powered

from vlm.flight.trim import spot_trims
from vlm.flight.trim.power_curve import PowerCurve, power_curve
from vlm.flight.trim.powered import PoweredCraft
from vlm.flight.trim.spot_trims import SpotCurve, spot_curve

KEYS = ("electrical_power_W", "alpha_deg", "wing_share", "stall_margin_deg")


def agree(one: PowerCurve, other: PowerCurve) -> None:
    """The same trims at every speed, to the tolerance of their equations."""
    for key in KEYS:
        np.testing.assert_allclose(one.values(key), other.values(key), rtol=1e-6, atol=1e-6)
    assert (one.allowed == other.allowed).all()


def made(name: str, fold: float) -> PoweredCraft:
    assert SMALL.rows == 3
    return powered(name, fold)


@pytest.mark.parametrize(("name", "fold"), [("tideline", 10.0), ("winnow", 10.0)])
def test_well_below_stall_no_branch_is_followed(name: str, fold: float) -> None:
    speeds = np.array([0.0, 14.0, 16.0, 18.0])
    spots = spot_curve(made(name, fold), speeds)
    assert isinstance(spots, SpotCurve)
    assert spots.branches == ()
    curve = power_curve(made(name, fold), speeds)
    agree(spots, curve)
    # Between the known speeds, and below them, where the branch is needed after all.
    for speed in (15.1, 4.0):
        key = "electrical_power_W"
        assert spots.at(speed).value(key) == pytest.approx(curve.at(speed).value(key), rel=1e-6)


def test_the_branch_is_followed_no_more_than_twice(monkeypatch: pytest.MonkeyPatch) -> None:
    """For all speeds at which no trim stands for itself, below and above the slowest known one."""
    craft = made("tideline", 10.0)
    spots = spot_curve(craft, np.array([0.0, 14.0, 18.0]))
    assert isinstance(spots, SpotCurve)
    followed = []

    def counted(*wanted: Any, **more: Any) -> PowerCurve:
        followed.append(wanted)
        return power_curve(*wanted, **more)

    monkeypatch.setattr(spot_trims, "_spot", lambda *_: None)
    monkeypatch.setattr(spot_trims, "power_curve", counted)
    speeds = np.array([4.0, 5.0, 15.1, 17.0])
    points = [spots.at(float(speed)) for speed in (*speeds, 4.0)]
    assert len(followed) == 2
    assert points[0] is points[-1]
    agree(replace(spots, points=tuple(points[:-1])), power_curve(craft, speeds))


def test_a_trim_past_stall_is_left_to_the_branch() -> None:
    """At 10 m/s and -60 degrees the wings carry the craft at their stall, and trims may be many."""
    speeds = np.array([10.0, 13.0])
    spots = spot_curve(made("tideline", -60.0), speeds)
    assert spots.values("stall_margin_deg")[0] < 0.5
    assert spots.values("wing_share")[0] > 0.5
    assert not isinstance(spots, SpotCurve)


@pytest.mark.parametrize("fold", [-90.0, 80.0])
def test_near_stall_the_branch_decides(fold: float) -> None:
    speeds = np.array([0.0, 6.0, 10.0, 13.0])
    spots = spot_curve(made("tideline", fold), speeds)
    assert not isinstance(spots, SpotCurve)
    agree(spots, power_curve(made("tideline", fold), speeds))
