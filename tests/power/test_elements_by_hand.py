"""Blade elements, their section and the search for a speed of rotation, against hand-worked forms.

Sources: the equations of momentum by annuli (H. Glauert, Airplane Propellers, 1935, from memory),
balanced here annulus by annulus by scipy; integrals of polynomials; the laws that the section's
docstring states, with its numbers put in by hand.
"""

from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
from scipy.optimize import fsolve

from vlm.constants import Floats
from vlm.description.power import Rotor
from vlm.errors import InputRefused
from vlm.power.blade_section import BladeSection
from vlm.power.element_rotor import (
    ElementModel,
    _rising_root,
    _tabulated,
    _turn,
    _without_thrust,
    element_model,
)
from vlm.power.elements import Blades, _Annuli, blades_at, rotor_coefficients
from vlm.power.momentum import disc_flow
from vlm.sections.polar import SectionLoads
from vlm.sections.post_stall import plate_drag, plate_lift


class Straight:
    """A polar of straight lift and level drag: cl = 5 alpha, cd = 0.02 + Re / 1e8."""

    def at(self, alpha: Floats, reynolds: Floats) -> SectionLoads:
        zero = 0.0 * alpha
        return SectionLoads(
            5.0 * alpha, zero + 5.0, 0.02 + reynolds / 1e8 + zero, zero, zero, zero, zero
        )


def plain(count: int = 2, radii: int = 16) -> Blades:
    station = np.array([0.2, 0.6, 1.0])
    chord, angle = np.array([0.2, 0.25, 0.1]), np.radians([30.0, 20.0, 10.0])
    return blades_at(station, chord, angle, count, Straight(), radii)  # type: ignore[arg-type]


def test_the_quadrature_along_the_blades_is_that_of_polynomials() -> None:
    """int r^n from 0.2 to 1 = (1 - 0.2^(n+1)) / (n + 1); chord and angle lie on straight lines."""
    blades = plain()
    for power in range(4):
        found = float(np.sum(blades.weight * blades.radius**power))
        assert found == pytest.approx((1.0 - 0.2 ** (power + 1)) / (power + 1), rel=1e-9)
    inner = blades.radius < 0.6
    r = blades.radius
    np.testing.assert_allclose(blades.chord[inner], 0.2 + 0.125 * (r[inner] - 0.2))
    np.testing.assert_allclose(blades.chord[~inner], 0.25 - 0.375 * (r[~inner] - 0.6))
    np.testing.assert_allclose(np.degrees(blades.angle), 30.0 - 25.0 * (r - 0.2))
    turned = blades.turned(0.1)
    np.testing.assert_allclose(turned.angle, blades.angle + 0.1)
    assert (turned.count, turned.chord is blades.chord) == (2, True)


@pytest.mark.parametrize("along", [0.02, 0.15, 0.3])
@pytest.mark.parametrize("count", [2, 3])
def test_forces_along_the_axis_balance_the_momentum_of_every_annulus(
    along: float, count: int
) -> None:
    """Equations (1) with Prandtl's F, B c W (cl ahead - cd through) / 2 = 4 pi r F v (lambda + v)
    and B c W (cl through + cd ahead) / 2 = 4 pi r F w (lambda + v), solved for v
    and w by scipy's Powell hybrid method."""
    blades, reynolds = plain(count), 3e5
    thrust = torque = 0.0
    for r, weight, chord, angle in zip(
        blades.radius, blades.weight, blades.chord, blades.angle, strict=True
    ):

        def balance(unknown, r=r, chord=chord, angle=angle):  # type: ignore[no-untyped-def]
            v, w = unknown
            through, ahead = along + v, r - w
            speed = np.hypot(through, ahead)
            cl = 5.0 * (angle - np.arctan2(through, ahead))
            cd = 0.02 + reynolds * chord * speed / 1e8
            half = 0.5 * count * chord * speed
            sine = abs(through) / np.hypot(r, through)
            loss = 2.0 / np.pi * np.arccos(np.exp(-0.5 * count * (1.0 - r) / (r * (sine + 1e-6))))
            taken = 4.0 * np.pi * r * loss * through
            normal, forward = half * (cl * ahead - cd * through), half * (cl * through + cd * ahead)
            return normal - taken * v, forward - taken * w, normal, forward

        v, w = fsolve(lambda x, f=balance: f(x)[:2], (0.05, 0.005), xtol=1e-12)
        _, _, normal, forward = balance((v, w))
        thrust += weight * normal
        torque += weight * r * forward
    found = rotor_coefficients(blades, np.array([along]), np.zeros(1), np.array([reynolds]))
    assert found.thrust[0] == pytest.approx(thrust, rel=1e-4)
    assert found.torque[0] == pytest.approx(torque, rel=1e-4)
    assert found.drag[0] == pytest.approx(0.0, abs=1e-15)


def test_forces_across_the_axis_are_means_over_the_azimuth() -> None:
    """At given v and w: blade elements at many azimuths, ahead r - w + mu sin psi; the drag in the
    plane has the part of the forces against the rotation and that of the friction along mu."""
    blades, mu, along = plain(), 0.15, 0.1
    annuli = _Annuli(blades, np.array([along]), np.array([mu]), np.array([2e5]))
    v, w = np.full((1, 16), 0.04), np.full((1, 16), 0.01)
    normal, forward, drag, _ = annuli.forces(v, w)
    psi = (np.arange(720) + 0.5) * (2.0 * np.pi / 720)
    for i, (r, chord, angle) in enumerate(
        zip(blades.radius, blades.chord, blades.angle, strict=True)
    ):
        ahead, through = r - 0.01 + mu * np.sin(psi), along + 0.04
        speed = np.hypot(ahead, through)
        cl, cd = 5.0 * (angle - np.arctan2(through, ahead)), 0.02 + 2e5 * chord * speed / 1e8
        half = 0.5 * 2 * chord * speed
        push = half * (cl * through + cd * ahead)
        assert normal[0, i] == pytest.approx(np.mean(half * (cl * ahead - cd * through)), rel=2e-3)
        assert forward[0, i] == pytest.approx(np.mean(push), rel=2e-3)
        rubbing = half * cd * mu * np.cos(psi) ** 2
        wanted = np.mean(push * np.sin(psi) + rubbing)
        assert drag[0, i] == pytest.approx(wanted, rel=0.01)


def test_a_driven_rotor_slows_the_air_by_half_at_most_and_swirl_has_a_limit() -> None:
    blades = plain(4).turned(-0.6)
    fast = _Annuli(blades, np.array([0.3]), np.zeros(1), np.array([3e5]))
    induced, swirl = fast.solved()
    assert induced.min() >= -0.15 - 1e-9
    assert np.all(np.abs(swirl) <= 0.5 * blades.radius + 1e-12)
    # Sinking at 0.4, the induced velocity is at least that which stops the air: found above it.
    falling = _Annuli(plain(), np.array([-0.4]), np.zeros(1), np.array([3e5]))
    assert falling.solved()[0].min() > 0.4


SECTION = BladeSection()


@pytest.mark.parametrize(
    ("reynolds", "zero_deg", "slope", "drag"),
    [
        (60_000.0, -3.0, 5.28, 0.0286),
        # x = 2: the angle without lift stays, slope 5.28 2^0.037, drag 0.0286 / 2^0.446.
        (120_000.0, -3.0, 5.28 * 2.0**0.037, 0.0286 / 2.0**0.446),
        # x = 1 / 2: it rises by 0.3 ln 2 degrees.
        (30_000.0, -3.0 + 0.3 * np.log(2.0), 5.28 * 0.5**0.037, 0.0286 * 2.0**0.446),
    ],
)
def test_the_section_below_stall_by_its_laws(
    reynolds: float, zero_deg: float, slope: float, drag: float
) -> None:
    curve = SECTION.curve(reynolds)
    alpha = np.array(curve.alpha_deg)
    chosen = (alpha >= -6.0) & (alpha <= 6.0)
    lift = slope * np.radians(alpha - zero_deg)
    np.testing.assert_allclose(np.array(curve.cl)[chosen], lift[chosen], rtol=1e-12, atol=1e-12)
    factor = drag / 0.0286
    over = lift - 0.25
    wanted = factor * (0.0286 + 0.0014 * over**2 + 0.134 * over**4)
    np.testing.assert_allclose(np.array(curve.cd)[chosen], wanted[chosen], rtol=1e-12)
    assert not np.any(curve.cm)
    assert (curve.reynolds, curve.alpha_deg[0], curve.alpha_deg[-1]) == (reynolds, -30.0, 40.0)


def test_the_section_past_stall_by_its_laws() -> None:
    """Beyond 6 degrees around the stall: the greater of 0.77 cl_max cos alpha and a plate's lift
    with 1.8 across the flow, and the plate's drag added to the least."""
    curve = SECTION.curve(120_000.0)
    alpha, top = np.radians(curve.alpha_deg), 1.32 * 2.0**0.007
    beyond = alpha > np.radians(-3.0) + top / (5.28 * 2.0**0.037) + np.radians(3.0)
    under = alpha < np.radians(-3.0) - 0.7 / (5.28 * 2.0**0.037) - np.radians(3.0)
    plate = plate_lift(alpha, 1.8)
    lift = np.where(
        beyond,
        np.maximum(0.77 * top * np.cos(alpha), plate),
        np.minimum(-0.77 * 0.7 * np.cos(alpha), plate),
    )
    for side in (beyond, under):
        assert side.sum() > 10
        np.testing.assert_allclose(np.array(curve.cl)[side], lift[side], rtol=1e-12)
        drag = 0.0286 / 2.0**0.446 + plate_drag(alpha, 1.8)
        np.testing.assert_allclose(np.array(curve.cd)[side], drag[side], rtol=1e-12)
    # Half-way through the stall both count alike.
    middle = SECTION._coefficients(np.array([np.radians(-3.0) + 1.32 / 5.28]), 1.0)
    at = np.radians(-3.0) + 0.25
    assert middle[0][0] == pytest.approx(0.5 * (1.32 + 0.77 * 1.32 * np.cos(at)))


def test_a_rising_root_is_found_and_reported_where_there_is_none() -> None:
    """tip^2 - need: sqrt(need); below the least speed there is none, and that is given back."""
    need = np.array([4.0, 1e6, 2.25, 0.25])
    low = np.array([1e-6, 1e-6, 1.0, 1.0])
    found, possible = _rising_root(lambda tip: tip**2 - need, low, need)
    np.testing.assert_allclose(found, [2.0, 1e3, 1.5, 1.0], rtol=1e-12)
    assert possible.tolist() == [True, True, True, False]


def made(table) -> ElementModel:  # type: ignore[no-untyped-def]
    model = object.__new__(ElementModel)
    model.radius, model.viscosity, model.fastest, model.table = 0.15, 1.8e-5, 0.4, table
    return model


def test_speed_and_power_from_coefficients() -> None:
    """CT = 0.05 at any point, CQ = 0.006, CH = 0.002: tip^2 = T / (0.05 rho R^2), Q = CQ rho tip^2
    R^3, P = Q tip / R + H V across, H = CH rho tip^2 R^2."""
    model = made(lambda points: np.tile([0.05, 0.006, 0.002], (len(points), 1)))
    flow = disc_flow(np.array([5.0, 20.0]), np.array([2.0, 0.0]), np.array([3.0, 8.0]), 1.2, 0.07)
    state = model.state(flow, 1.2)
    tip = np.sqrt(np.array([5.0, 20.0]) / (0.05 * 1.2 * 0.15**2))
    np.testing.assert_allclose(state.speed, tip / 0.15, rtol=1e-9)
    power = 0.006 * 1.2 * tip**3 * 0.15**2 + 0.002 * 1.2 * tip**2 * 0.15**2 * np.array([3.0, 8.0])
    np.testing.assert_allclose(state.power, power, rtol=1e-9)
    np.testing.assert_allclose(state.torque, power / state.speed, rtol=1e-12)
    assert state.in_range.all()


def test_coefficients_are_read_at_the_ratios_and_within_the_table() -> None:
    """Reynolds number rho tip R / mu: 1.2 x 60 x 0.15 / 1.8e-5 = 6e5; ends at 3e4 and 1.5e6."""
    seen: list[Floats] = []

    def table(points: Floats) -> Floats:
        seen.append(points)
        return np.stack([points.sum(axis=-1), points[..., 0], points[..., 1]], axis=-1)

    flow = SimpleNamespace(
        axial=np.array([6.0, -40.0, 900.0]), edgewise=np.array([12.0, 0.6, 90.0])
    )
    tip = np.array([60.0, 1.0, 1000.0])
    found = made(table).coefficients(flow, tip, 1.2)  # type: ignore[arg-type]
    wanted = [
        [0.1, 0.2, np.log(6e5)], [-0.15, 0.6, np.log(3e4)], [0.4, 0.09, np.log(1.5e6)],
    ]  # fmt: skip
    np.testing.assert_allclose(seen[0], wanted, rtol=1e-12)
    np.testing.assert_allclose(found, [np.sum(wanted, axis=1), *np.array(wanted).T[:2]])


def test_the_speed_without_thrust_lies_between_its_neighbours(monkeypatch) -> None:
    """A thrust that falls on a straight line to zero at 0.41 is met there; none is refused."""
    for zero, refused in ((0.41, False), (0.02, True), (2.0, True)):

        def line(_blades, along, across, reynolds, zero=zero):  # type: ignore[no-untyped-def]
            assert not np.any(across)
            assert np.all(reynolds == 3e5)
            return SimpleNamespace(thrust=0.1 * (zero - along))

        monkeypatch.setattr("vlm.power.element_rotor.rotor_coefficients", line)
        if refused:
            with pytest.raises(InputRefused, match=r"between advance ratios of 0\.16 and 4\.7"):
                _without_thrust(plain())
        else:
            assert _without_thrust(plain()) == pytest.approx(zero, rel=1e-9)


def test_the_table_holds_the_elements_own_numbers_at_its_nodes() -> None:
    """From -0.15 to 1.7 times the speed without thrust along the axis, 0 to 0.6 across, Reynolds
    numbers 3e4 to 1.5e6: there exactly, and half-way between them within 1 % in thrust."""
    blades = plain()
    fastest, table = _tabulated(blades)
    assert fastest == pytest.approx(1.7 * _without_thrust(blades))
    along = np.linspace(-0.15, fastest, 26)
    for across in (0.0, 0.03, 0.12, 0.6):
        for number in (3e4, 2e5, 1.5e6):
            direct = rotor_coefficients(blades, along, np.full(26, across), np.full(26, number))
            at = np.stack([along, np.full(26, across), np.full(26, np.log(number))], axis=-1)
            wanted = np.stack([direct.thrust, direct.torque, direct.drag], axis=-1)
            np.testing.assert_allclose(table(at), wanted, rtol=1e-8, atol=1e-12)
    middle = 0.5 * (along[12:] + along[11:-1])
    for across in (0.01, 0.05, 0.16):
        direct = rotor_coefficients(blades, middle, np.full(14, across), np.full(14, 3e5))
        at = np.stack([middle, np.full(14, across), np.full(14, np.log(3e5))], axis=-1)
        np.testing.assert_allclose(table(at)[:, 0], direct.thrust, rtol=1e-2, atol=2e-5)


def test_blades_are_turned_until_an_advance_ratio_leaves_no_thrust() -> None:
    """J = V / (n D) is pi times the speed along the axis over that of the tips. Blades whose angles
    are all 4 degrees larger must be turned back by as much; ten degrees are the most."""
    blades = plain()
    ratio = np.pi * _without_thrust(blades)
    turn = _turn(blades, ratio)
    assert np.degrees(turn) == pytest.approx(0.0, abs=0.15)
    further = _turn(blades.turned(np.radians(4.0)), ratio)
    assert np.degrees(further - turn) == pytest.approx(-4.0, abs=2e-3)
    along, number = np.array([ratio / np.pi]), np.array([3e5])
    left = rotor_coefficients(blades.turned(turn), along, np.zeros(1), number).thrust[0]
    whole = rotor_coefficients(blades, 0.5 * along, np.zeros(1), number).thrust[0]
    assert abs(left) < 1e-3 * whole
    for off, refused in ((9.5, False), (10.5, True), (-10.5, True)):
        if refused:
            with pytest.raises(InputRefused, match=r"= 0\.632\d+; no turn .* within 10 degrees"):
                _turn(blades.turned(np.radians(off)), ratio)
        else:
            assert np.degrees(_turn(blades.turned(np.radians(off)), ratio)) < -9.0


def test_rotors_of_the_same_blades_share_a_model_and_others_do_not(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whatever they are called, wherever they stand and however they turn."""
    monkeypatch.setattr("vlm.power.element_rotor._tabulated", lambda blades: (0.3, None))
    (tmp_path / "blade.csv").write_text("r_R,chord_R,beta_deg\n0.2,0.2,30\n0.6,0.2,20\n1,0.1,10")

    def rotor(**keys: object) -> Rotor:
        own = {"name": "a", "position_m": (0.0, 0.1, 0.0), "spin": "right", "radius_m": 0.12,
               "form": "elements", "blade_table": "blade.csv"}  # fmt: skip
        return Rotor(**(own | keys))  # type: ignore[arg-type]

    model = element_model(rotor(), tmp_path)
    other = rotor(name="b", position_m=(1.0, 0.0, 0.0), spin="left", thrust_max_N=3.0,
                  thrust_min_N=-1.0, power_max_W=90.0, axis=(-0.8, 0.0, 0.6))  # fmt: skip
    assert element_model(other, tmp_path) is model
    assert element_model(rotor(radius_m=0.13), tmp_path) is not model
    assert model.radius == 0.12
    # Sea level of the standard atmosphere: 1.7894e-5 Pa s (ISO 2533).
    assert model.viscosity == pytest.approx(1.7894e-5, rel=1e-4)
