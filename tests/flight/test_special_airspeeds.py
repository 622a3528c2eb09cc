"""Airspeeds that matter on curves that are known, by hand.

No source but what is put in: parabolas and straight lines; all invented.
"""

from types import SimpleNamespace

import numpy as np
import pytest

from vlm.flight.trim import special_speeds
from vlm.flight.trim.special_speeds import least, speeds_at_body_angle

SPEEDS = np.array([8.0, 10.0, 12.0, 14.0, 16.0])


class _Point(SimpleNamespace):
    def value(self, key):
        return self.values[key]


class _Curve:
    """Points at airspeeds from given functions of it."""

    problem = None

    def __init__(self, speeds, power=None, stall=None, margin=None, angle=None, trims=1):
        self.speeds = np.array(speeds, dtype=float)
        self._power = power or (lambda v: 100.0 + (v - 11.3) ** 2)
        self._stall, self._margin = stall or (lambda v: 5.0), margin or (lambda v: 1.0)
        self._angle, self._trims = angle or (lambda v: 0.0), trims
        self.points = [self.at(v) for v in self.speeds]
        self.asked = []

    @property
    def allowed(self):
        return np.array([p.is_allowed for p in self.points])

    def values(self, key):
        return np.array([p.values[key] for p in self.points])

    def at(self, speed):
        power, margin = self._power(speed), self._margin(speed)
        values = {
            "electrical_power_W": power, "consumption_Wh_km": power / (3.6 * max(speed, 1e-9)),
            "stall_margin_deg": self._stall(speed), "body_angle_deg": self._angle(speed),
        }  # fmt: skip
        measures = SimpleNamespace(limit="highest thrust" if margin < 0.0 else "")
        return _Point(
            speed=speed, values=values, margin=margin, is_allowed=margin >= 0.0, trims=self._trims,
            trim=object(), measures=measures, limit=measures.limit,
        )  # fmt: skip


@pytest.fixture
def no_pitch_trim(monkeypatch):
    monkeypatch.setattr(special_speeds, "equal_margins", lambda problem, trim: {})


@pytest.mark.parametrize("trims", [1, 2])
def test_least_power_and_least_energy_of_a_parabola(trims):
    """(V - 11.3)^2 + 100 is least at 11.3; over V at sqrt(11.3^2 + 100)."""
    curve = _Curve([8.0, 10.0, 12.0, 14.0, 16.0, 18.0], trims=trims)
    assert least(curve, "electrical_power_W").speed == pytest.approx(11.3, abs=0.01)
    far = least(curve, "consumption_Wh_km").speed
    assert far == pytest.approx(np.sqrt(11.3**2 + 100.0), abs=0.08)


def test_the_least_lies_at_an_end_or_where_it_is_allowed():
    curve = _Curve(SPEEDS, power=lambda v: 200.0 - v)
    assert least(curve, "electrical_power_W").speed == pytest.approx(16.0, abs=0.02)
    barred = _Curve(SPEEDS, power=lambda v: 200.0 - v, margin=lambda v: 13.0 - v)
    assert 12.0 <= least(barred, "electrical_power_W").speed <= 13.0
    assert least(_Curve(SPEEDS, margin=lambda v: -1.0), "electrical_power_W") is None


@pytest.mark.parametrize(
    ("margin", "slowest", "fastest", "limits"),
    [
        (lambda v: min(v - 9.1, 15.3 - v), 9.1, 15.3, ("highest thrust", "highest thrust")),
        (lambda v: 15.3 - v, 8.0, 15.3, (special_speeds.NOT_REACHED, "highest thrust")),
        (lambda v: v - 9.1, 9.1, np.nan, ("highest thrust", special_speeds.NOT_REACHED)),
        (lambda v: -1.0, np.nan, np.nan, ("highest thrust", "highest thrust")),
    ],
)
def test_airspeeds_end_where_a_margin_does(no_pitch_trim, margin, slowest, fastest, limits):
    found = special_speeds.special_speeds(_Curve(SPEEDS, margin=margin))
    assert found.slowest == pytest.approx(slowest, abs=0.01, nan_ok=True)
    assert found.fastest == pytest.approx(fastest, abs=0.01, nan_ok=True)
    assert (str(found.slowest_limit), str(found.fastest_limit)) == limits


def test_of_two_stretches_the_faster_one_counts(no_pitch_trim):
    curve = _Curve(SPEEDS, margin=lambda v: abs(v - 10.4) - 1.0)
    found = special_speeds.special_speeds(curve)
    assert found.slowest == pytest.approx(11.4, abs=0.01)
    hover = special_speeds.special_speeds(_Curve([0.0, 5.0, 10.0], margin=lambda v: 7.0 - v))
    assert (hover.slowest, str(hover.slowest_limit)) == (0.0, "")


@pytest.mark.parametrize(("equal", "told"), [(0.1, True), (0.0, True), (-0.1, False)])
def test_a_limit_by_pitch_trim_is_one_that_equal_thrusts_keep(monkeypatch, equal, told):
    monkeypatch.setattr(
        special_speeds, "equal_margins", lambda problem, trim: {"highest thrust": equal}
    )
    found = special_speeds.special_speeds(_Curve(SPEEDS, margin=lambda v: 15.3 - v))
    assert found.fastest_limit.by_pitch_trim == told
    assert str(found.fastest_limit) == "highest thrust" + (", by pitch trim" if told else "")


@pytest.mark.parametrize(
    ("stall", "slowest"),
    [
        (lambda v: v - 11.2, 11.2), (lambda v: 3.0, 8.0), (lambda v: -3.0, np.nan),
        (lambda v: abs(v - 10.4) - 1.0, 11.4), (lambda v: v - 15.0, 15.0),
    ],
)  # fmt: skip
def test_the_slowest_on_the_wings_is_where_no_strip_stalls(no_pitch_trim, stall, slowest):
    found = special_speeds.special_speeds(_Curve(SPEEDS, stall=stall)).slowest_on_wings
    assert found == pytest.approx(slowest, abs=0.01, nan_ok=True)


@pytest.mark.parametrize(
    ("angle", "asked", "found"),
    [
        (lambda v: 20.0 - v, 7.5, [12.5]), (lambda v: 20.0 - v, 8.0, [12.0]),
        (lambda v: (v - 12.3) ** 2, 4.0, [10.3, 14.3]), (lambda v: 20.0 - v, 13.0, []),
        (lambda v: 20.0 - v, 12.0, [8.0]), (lambda v: 20.0 - v, 4.0, [16.0]),
        # A jump of the body over the angle is no airspeed of that angle.
        (lambda v: 60.0 if v < 11.0 else 0.0, 30.0, []),
    ],
)  # fmt: skip
def test_airspeeds_of_a_body_angle(angle, asked, found):
    curve = _Curve(SPEEDS, angle=angle)
    assert speeds_at_body_angle(curve, asked) == pytest.approx(found, abs=0.01)


def test_one_airspeed_alone_has_no_special_ones():
    found = special_speeds.special_speeds(_Curve([10.0]))
    assert np.isnan([found.least_power, found.slowest, found.fastest]).all()
    assert str(found.fastest_limit) == special_speeds.ONE_ASKED


def test_a_body_angle_at_the_first_allowed_airspeed_counts():
    """20 - V is 8 degrees at 12 m/s, below which nothing is allowed."""
    curve = _Curve(SPEEDS, angle=lambda v: 20.0 - v, margin=lambda v: v - 11.0)
    assert speeds_at_body_angle(curve, 8.0) == pytest.approx([12.0], abs=0.01)
    last = _Curve(SPEEDS, angle=lambda v: 20.0 - v, margin=lambda v: 13.0 - v)
    assert speeds_at_body_angle(last, 10.0) == pytest.approx([10.0], abs=0.01)
