"""Airspeeds that matter on curves that are known, by hand.

No source but what is put in: parabolas and straight lines; all invented.
"""

from types import SimpleNamespace

import numpy as np
import pytest

from vlm.description.folds import FoldAngles
from vlm.description.loading import load_biplane
from vlm.description.models import Biplane
from vlm.flight.trim import special_speeds
from vlm.flight.trim.power_curve import PowerCurve
from vlm.flight.trim.powered import powered_craft
from vlm.flight.trim.special_speeds import least, speeds_at_body_angle
from vlm.lattice.cellule import Grid

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
        self._angle, self._trims, self.not_known_to = angle or (lambda v: 0.0), trims, -1.0
        self.points = [self.at(v) for v in self.speeds]
        self.asked = []

    def is_stall_known(self, point):
        return point.speed > self.not_known_to

    @property
    def stall_known(self):
        return self.speeds > self.not_known_to

    @property
    def decided(self):
        return self.allowed & self.stall_known

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
            "alpha_deg": 12.0 + self.not_known_to - speed,
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


def test_nothing_is_best_where_no_section_tells_whether_the_wings_are_stalled(no_pitch_trim):
    """Power falls toward slow flight; up to 12.7 m/s the angle of attack is beyond the limit."""
    curve = _Curve(SPEEDS, power=lambda v: 50.0 + v, stall=lambda v: np.inf)
    found = special_speeds.special_speeds(curve)
    assert found.least_power == 8.0
    assert np.isnan(found.stall_not_known_to)
    curve.not_known_to = 12.7
    found = special_speeds.special_speeds(curve)
    assert found.least_power == pytest.approx(12.7, abs=0.02)
    assert found.least_power > 12.7 or found.least_power == 14.0
    assert found.stall_not_known_to == pytest.approx(12.7, abs=0.01)
    assert found.slowest_on_wings == pytest.approx(12.7, abs=0.01)
    curve.not_known_to = 17.0
    found = special_speeds.special_speeds(curve)
    assert np.isnan(found.least_power)
    assert found.stall_not_known_to == 16.0


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
        (lambda v: 15.3 - v, np.nan, 15.3, (special_speeds.NOT_REACHED, "highest thrust")),
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


@pytest.mark.parametrize(("equal", "stall_known"), [(0.1, True), (0.0, True), (-0.1, False)])
def test_a_limit_by_pitch_trim_is_one_that_equal_thrusts_keep(monkeypatch, equal, stall_known):
    monkeypatch.setattr(
        special_speeds, "equal_margins", lambda problem, trim: {"highest thrust": equal}
    )
    found = special_speeds.special_speeds(_Curve(SPEEDS, margin=lambda v: 15.3 - v))
    assert found.fastest_limit.by_pitch_trim == stall_known
    assert str(found.fastest_limit) == "highest thrust" + (", by pitch trim" if stall_known else "")


@pytest.mark.parametrize(
    ("stall", "slowest"),
    [
        (lambda v: v - 11.2, 11.2), (lambda v: 3.0, np.nan), (lambda v: -3.0, np.nan),
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


@pytest.mark.parametrize(("bare", "tells"), [((), True), (("lower",), False), (("fins",), True)])
def test_a_wing_without_a_section_does_not_tell_its_stall(bare, tells):
    """Beyond 12 degrees either way and not in hover; a fin's section is not asked for."""
    craft = load_biplane("teasel" if bare == ("fins",) else "tideline")
    tables = craft.model_dump(exclude_none=True)
    for one in bare:
        for table in tables[one] if one == "fins" else [tables[one]]:
            del table["section"]
    made = Biplane.model_validate(tables).from_source(craft.source)
    model = powered_craft(made, FoldAngles(), grid=Grid(1, 4)).model
    assert model.tells_stall is tells
    problem = SimpleNamespace(craft=SimpleNamespace(model=model))
    angles = {5.0: -12.5, 8.0: 12.5, 10.0: 11.5, 0.0: 80.0}
    points = [
        _Point(speed=speed, values={"alpha_deg": angle}, is_allowed=True)
        for speed, angle in angles.items()
    ]
    curve = PowerCurve(problem, 0.0, (), tuple(points))
    assert curve.stall_known.tolist() == [tells, tells, True, True]
    assert curve.decided.tolist() == curve.stall_known.tolist()
