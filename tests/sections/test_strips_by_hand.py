"""Parts of the coupling of strips with sections, from made-up numbers worked out by hand.

Sources: thin-section theory (H. Glauert, The Elements of Aerofoil and Airscrew Theory, chapter 7,
from memory): with v_n / V = A0 - sum An cos n theta, Gamma = pi c V (A0 + A1 / 2) and the moment
about the quarter chord c_m = - pi / 4 (A1 - A2). The rest are sums, written out with loops.
"""

from types import SimpleNamespace

import numpy as np
import pytest
from core_craft import lattice_of, monoplane

from vlm.air import standard_air
from vlm.flow.direction import EXACT, ROOM, held_angle, held_rate, wake_direction, wake_turns
from vlm.lattice.cellule import Grid
from vlm.lattice.spacing import ChordLaw, chord_rows
from vlm.sections.coupling import StripOnset
from vlm.sections.sectioned import (
    SectionedLattice,
    _aspect_ratios,
    _segments,
    _strip_of_panel,
)
from vlm.sections.strip_forces import StripForces, far_field
from vlm.sections.strips import _places_along, smoothing_of, strips_of, thin_section
from vlm.sections.turning import ANGLES, TurningWake, WakeTables, carrying_angles
from vlm.sides import Side

RANDOM = np.random.default_rng(5)


@pytest.mark.parametrize("law", ["gauss", "uniform"])
@pytest.mark.parametrize("rows", [2, 3, 6, 40])
def test_rows_are_a_thin_section(rows: int, law: ChordLaw) -> None:
    """Gauss's rows exactly, uniform ones but for a share that falls with the square of the rows."""
    weights, moments = thin_section(rows, law)
    _, controls = chord_rows(rows, law)
    angle = np.arccos(1.0 - 2.0 * controls)
    off = 1e-9 if law == "gauss" else 1.01 / rows**2
    assert weights.sum() == pytest.approx(1.0)
    assert moments.sum() == pytest.approx(0.0, abs=1e-9)
    # v_n = cos theta is A1 = -1: Gamma / pi = -1/2, and c_m / 2 = pi / 8.
    assert weights @ np.cos(angle) == pytest.approx(-0.5)
    assert moments @ np.cos(angle) == pytest.approx(np.pi / 8.0, rel=off)
    if rows > 2:  # v_n = cos 2 theta is A2 = -1: no circulation, c_m / 2 = - pi / 8
        assert weights @ np.cos(2.0 * angle) == pytest.approx(0.0, abs=off)
        assert moments @ np.cos(2.0 * angle) == pytest.approx(-np.pi / 8.0, rel=2.0 * off)


def test_a_strips_quarter_chord_lies_at_its_station_on_the_swept_line() -> None:
    """A straight wing that tapers from 0.3 to 0.12 m over 1 m of half span, its quarter chord
    swept by 12 degrees: that stands 0.075 + y tan 12 deg aft of the apex."""
    swept = monoplane(2.0, 0.3, end_chord_m=0.12, sweep_deg=12.0)
    lattice = lattice_of(swept, grid=Grid(rows=4, strips=7))
    quarter = strips_of(lattice).quarter
    y = np.concatenate([patch.sense * patch.span_position for patch in lattice.patches])
    np.testing.assert_allclose(quarter[:, 1], y, atol=1e-12)
    np.testing.assert_allclose(
        quarter[:, 0], 0.075 + np.tan(np.radians(12.0)) * np.abs(y), atol=1e-12
    )


def test_strips_are_averaged_over_a_gaussian_along_their_line() -> None:
    """Spans 0.2, 0.4 | 0.3 to starboard and 0.2, 0.4 to port of a wing: middles at 0.1, 0.4, 0.75,
    -0.1, -0.4; a width of 0.4 chords. Two plates of a fin that do not meet are lines apart."""
    span, chord = np.array([0.2, 0.4, 0.3, 0.2, 0.4, 0.5, 0.6]), np.linspace(0.2, 0.32, 7)
    strips = SimpleNamespace(span=span, chord=chord, count=7, patch=np.array([0, 0, 1, 2, 2, 3, 4]))
    place = np.array([0.1, 0.4, 0.75, -0.1, -0.4])
    wing = [(1.0, [np.array([0, 1]), np.array([2])]), (-1.0, [np.array([3, 4])])]
    found, members = _places_along(strips, wing)  # type: ignore[arg-type]
    np.testing.assert_allclose(found, place)
    assert members.tolist() == [0, 1, 2, 3, 4]

    def patch(wing: str, side: Side, meets: bool) -> SimpleNamespace:
        return SimpleNamespace(wing=wing, side=side, meets_image=meets)

    starboard, port = Side.STARBOARD, Side.PORT
    patches = [patch("upper", starboard, True), patch("upper", starboard, True),
               patch("upper", port, True), patch("keel", starboard, False),
               patch("keel", port, False)]  # fmt: skip
    matrix = smoothing_of(SimpleNamespace(patches=patches), strips)  # type: ignore[arg-type]
    wanted = np.zeros((7, 7))
    wanted[5, 5] = wanted[6, 6] = 1.0
    for i in range(5):
        for j in range(5):
            far = (place[i] - place[j]) / (0.4 * chord[i])
            wanted[i, j] = np.exp(-0.5 * far**2) * span[j]
        wanted[i] /= wanted[i].sum()
    np.testing.assert_allclose(matrix, wanted, rtol=1e-12, atol=1e-15)


def test_aspect_ratios_count_both_halves_where_they_meet() -> None:
    """Spans 1 + 2 on chords 0.5 and 0.25, twice: 6^2 / 2 = 18; a plate of 0.4 by 0.2: 2."""
    starboard, port = Side.STARBOARD, Side.PORT
    rows = [("upper", starboard, True), ("upper", port, True), ("keel", starboard, False),
            ("keel", port, False)]  # fmt: skip
    patches = [SimpleNamespace(wing=w, side=s, meets_image=m) for w, s, m in rows]
    strips = SimpleNamespace(
        patch=np.array([0, 0, 1, 1, 2, 3]),
        span=np.array([1.0, 2.0, 1.0, 2.0, 0.4, 0.4]),
        chord=np.array([0.5, 0.25, 0.5, 0.25, 0.2, 0.2]),
    )
    found = _aspect_ratios(SimpleNamespace(patches=patches), strips)  # type: ignore[arg-type]
    assert found == pytest.approx({"upper": 18.0, "keel": 2.0})


def two_patches() -> SimpleNamespace:
    def patch(rows: int, strips: int, sense: float) -> SimpleNamespace:
        nodes = RANDOM.normal(size=(rows + 1, strips + 1, 3))
        return SimpleNamespace(
            rows=rows, strips=strips, sense=sense, nodes=nodes,
            bound_points=lambda: 0.5 * (nodes[:-1, 1:] + nodes[:-1, :-1]),
            chordwise_points=lambda: 0.5 * (nodes[1:] + nodes[:-1]),
        )  # fmt: skip

    return SimpleNamespace(patches=[patch(2, 2, 1.0), patch(1, 1, -1.0)])


def test_segments_and_the_strips_that_own_them() -> None:
    """Of two rows of two strips, and one row of one: bound ones whole, chordwise ones in half
    between two strips, whole at the ends."""
    places, vectors, owners = _segments(two_patches(), 3)  # type: ignore[arg-type]
    assert places.shape == vectors.shape == (13, 3)
    first = [[1, 0, 1, 0, 1, 0.5, 0, 1, 0.5, 0], [0, 1, 0, 1, 0, 0.5, 1, 0, 0.5, 1]]
    wanted = np.zeros((3, 13))
    wanted[:2, :10], wanted[2, 10:] = first, 1.0
    np.testing.assert_array_equal(owners, wanted)
    assert _strip_of_panel(two_patches()).tolist() == [0, 1, 0, 1, 2]  # type: ignore[arg-type]


def test_mean_velocities_over_rows_and_wings() -> None:
    """Rows that count 0.75 and 0.25 in two strips of 3 and 1 m^2."""
    model = SimpleNamespace(
        strips=SimpleNamespace(area=np.array([3.0, 1.0]), rows=np.array([0.75, 0.25]), count=2),
        lattice=SimpleNamespace(patches=[SimpleNamespace(strips=2)]),
        spread=np.array([0, 1, 0, 1]),
    )
    model.row_weights = SectionedLattice.row_weights.func(model)  # type: ignore[attr-defined]
    model.spreading = SectionedLattice.spreading.func(model)  # type: ignore[attr-defined]
    assert model.row_weights.tolist() == [0.75, 0.75, 0.25, 0.25]
    velocity = RANDOM.normal(size=(2, 4, 3))
    mean = SectionedLattice.mean_velocity(model, velocity)  # type: ignore[arg-type]
    each = 0.75 * velocity[:, :2] + 0.25 * velocity[:, 2:]
    np.testing.assert_allclose(mean, 0.75 * each[:, 0] + 0.25 * each[:, 1])
    means = SectionedLattice.strip_means(model, velocity[..., 1])  # type: ignore[arg-type]
    np.testing.assert_allclose(means, each[..., 1])


def test_tables_of_the_wakes_directions_are_summed_by_their_shares() -> None:
    """Two directions level, one aside; three strips, five panels, two segments, four states."""
    tables = WakeTables(
        trailing=RANDOM.normal(size=(3, 5)),
        closed_loop=RANDOM.normal(size=(3, 3, 3)),
        normalwash=(RANDOM.normal(size=(5, 6)), RANDOM.normal(size=(5, 3))),
        velocities=(RANDOM.normal(size=(6, 6)), RANDOM.normal(size=(6, 3))),
        drag=RANDOM.normal(size=(3, 3, 3)),
    )
    shares, wash, strips = (RANDOM.normal(size=s) for s in ((4, 3), (4, 5), (4, 3)))
    circulation = np.zeros((4, 3))
    drag, across, velocity = np.zeros(4), np.zeros((5, 4)), np.zeros((6, 4))
    whole = np.concatenate(tables.normalwash, axis=1).reshape(5, 3, 3)
    speeds = np.concatenate(tables.velocities, axis=1).reshape(6, 3, 3)
    for b in range(4):
        for k in range(3):
            circulation[b] += shares[b, k] * (tables.closed_loop[k] @ tables.trailing @ wash[b])
            drag[b] += shares[b, k] * (strips[b] @ tables.drag[k] @ strips[b])
            across[:, b] += shares[b, k] * (whole[:, k] @ strips[b])
            velocity[:, b] += shares[b, k] * (speeds[:, k] @ strips[b])
    np.testing.assert_allclose(tables.circulation(shares, wash), circulation, rtol=1e-11)
    np.testing.assert_allclose(tables.far_field_drag(shares, strips), drag, rtol=1e-11)
    found = tables.acting(shares, strips)
    np.testing.assert_allclose(found[0], across, rtol=1e-11)
    np.testing.assert_allclose(found[1], velocity, rtol=1e-11)


def wind(alpha: float, beta: float) -> list[float]:
    return [np.cos(alpha) * np.cos(beta), -np.sin(beta), np.sin(alpha) * np.cos(beta)]


def test_a_wake_is_carried_by_the_air_and_shares_are_those_of_polynomials() -> None:
    """Angles of the air; a function of degree 4 in the angle of attack, with what sideslip changes
    of degree 2 in both, is read exactly from its values at the directions."""
    angles = np.radians([[3.0, 0.0], [-7.0, 4.0], [10.0, -9.0], [1.0, 11.0]])
    air = 9.0 * np.array([wind(*pair) for pair in angles])
    alpha, beta = carrying_angles(air)
    np.testing.assert_allclose(np.stack([alpha, beta], axis=1), angles, rtol=1e-12, atol=1e-15)
    turning = SimpleNamespace(kind="stream")

    def level(a):  # type: ignore[no-untyped-def]
        return 1.0 + 2.0 * a - 3.0 * a**2 + a**3 + 40.0 * a**4

    def aside(a, b):  # type: ignore[no-untyped-def]
        return (0.5 + a - 2.0 * a**2) * b + (1.0 - 3.0 * a + a**2) * b**2

    few = ANGLES[1:4]
    at = [aside(few, -EXACT) + level(few), level(ANGLES), aside(few, EXACT) + level(few)]
    shares = TurningWake.shares(turning, air)  # type: ignore[arg-type]
    assert shares.shape == (4, 11)
    np.testing.assert_allclose(
        shares @ np.concatenate(at), level(alpha) + aside(alpha, beta), rtol=1e-10
    )
    plain = TurningWake.shares(turning, air[:1])  # type: ignore[arg-type]
    assert plain.shape == (1, 5)
    np.testing.assert_allclose(plain @ at[1], level(alpha[0]), rtol=1e-10)
    along = TurningWake.shares(SimpleNamespace(kind="craft"), air)  # type: ignore[arg-type]
    np.testing.assert_array_equal(along, np.ones((4, 1)))


def test_the_wakes_angle_is_held_beyond_12_degrees() -> None:
    """The stream's up to there; beyond, 6 tanh((a - 12) / 6) more degrees, and its slope."""
    assert (np.degrees(EXACT), np.degrees(ROOM)) == pytest.approx((12.0, 6.0))
    angles = np.radians([-50.0, -15.0, -12.0, 0.0, 5.0, 12.0, 20.0])
    wanted = [-12 - 6 * np.tanh(38 / 6), -12 - 6 * np.tanh(0.5), -12, 0, 5, 12,
              12 + 6 * np.tanh(8 / 6)]  # fmt: skip
    np.testing.assert_allclose(np.degrees(held_angle(angles)), wanted, atol=1e-12)
    step = 1e-6
    slope = (held_angle(angles + step) - held_angle(angles - step)) / (2.0 * step)
    np.testing.assert_allclose(held_rate(angles), slope, atol=1e-6)
    assert held_rate(np.radians(179.0)) >= 0.0
    for alpha, beta in ((0.1, -0.05), (0.4, 0.3)):
        held = wind(float(held_angle(alpha)), float(held_angle(beta)))
        np.testing.assert_allclose(wake_direction(alpha, beta), held, rtol=1e-12)
        turns = wake_turns(alpha, beta)
        ahead = (wake_direction(alpha + step, beta) - wake_direction(alpha - step, beta)) / 2 / step
        aside = (wake_direction(alpha, beta + step) - wake_direction(alpha, beta - step)) / 2 / step
        np.testing.assert_allclose(turns["alpha"], ahead, atol=1e-9)
        np.testing.assert_allclose(turns["beta"], aside, atol=1e-9)


def onset(**fields: object) -> StripOnset:
    plain = {
        "normalwash": np.zeros((1, 1)),
        "spanwise": np.zeros((1, 2)),
        "shares": np.ones((1, 1)),
        "air": standard_air(),
        "tangential": np.array([[3.0, 8.0]]),
        "normal": np.array([[4.0, 6.0]]),
    }
    return StripOnset(**(plain | fields))  # type: ignore[arg-type]


def test_scale_and_share_of_the_lattice() -> None:
    """Speeds 5 and 10: sqrt(62.5). At 53 degrees and 37 of onset the lattice counts nothing, and
    by t = (36.87 - 25) / 20 of the smooth step 1 - t^3 (10 - 15 t + 6 t^2)."""
    found = onset()
    assert found.scale[0] == pytest.approx(np.sqrt(62.5))
    t = (np.degrees(np.arctan2(6.0, 8.0)) - 25.0) / 20.0
    faded = 1.0 - t**3 * (10.0 - 15.0 * t + 6.0 * t**2)
    np.testing.assert_allclose(found.attached, [[0.0, faded]], atol=1e-12)
    # Flow along the span counts as flow across; in nearly still air a strip counts less.
    aside = onset(tangential=np.array([[8.0, 0.9]]), normal=np.zeros((1, 2)),
                  spanwise=np.array([[6.0, 0.0]]))  # fmt: skip
    u = (0.9 / np.sqrt((64.0 + 0.81) / 2.0) - 0.1) / 0.1
    assert aside.attached[0] == pytest.approx([faded, u**3 * (10.0 - 15.0 * u + 6.0 * u**2)])


def test_induced_drag_is_brought_to_that_of_the_far_field() -> None:
    """Drag 2 rho; half of the weight Gamma^2 b attached; a stream of alpha and beta, without wind
    of others and with one as strong: 1 / sqrt 2 of it. The change lies in the plane of symmetry."""
    alpha, beta = 0.2, 0.1
    stream = 10.0 * np.array([wind(alpha, beta)])
    tables = SimpleNamespace(far_field_drag=lambda shares, circulation: np.array([2.0]))
    model = SimpleNamespace(
        wake=SimpleNamespace(tables=lambda shares: tables),
        strips=SimpleNamespace(span=np.array([1.0, 4.0])),
    )
    pull = np.array([[[1.0, 0.5, 3.0], [0.2, -0.1, 2.0]]])
    attached, circulation = np.array([[1.0, 0.0]]), np.array([[2.0, 1.0]])
    state, rho = onset(), standard_air().density_kg_m3
    unit = np.array(wind(alpha, beta))
    surface = float(pull[0].sum(axis=0) @ unit)
    for other, share in ((None, 1.0), (np.array([[[0.0, 0.0, 10.0]] * 3]), 1.0 / np.sqrt(2.0))):
        drag, change = far_field(
            model,
            state,
            attached,
            circulation,
            stream,
            other,
            pull,  # type: ignore[arg-type]
        )
        assert drag[0] == pytest.approx(2.0 * rho)
        assert change[0, 1] == 0.0
        # Along the wind it is the whole difference, whatever the sideslip.
        assert change[0] @ unit == pytest.approx(share * 0.5 * (2.0 * rho - surface))
        assert change[0, 2] / change[0, 0] == pytest.approx(np.tan(alpha))


def test_the_whole_of_strips() -> None:
    force, moment, profile, turning = (RANDOM.normal(size=(2, 3, 3)) for _ in range(4))
    correction = RANDOM.normal(size=(2, 3))
    found = StripForces(force, moment, profile, turning, correction, np.zeros(2), correction)
    for scale in (1.0, 1.3):
        whole, about = found.total(scale)
        for b in range(2):
            np.testing.assert_allclose(
                whole[b], sum(force[b]) + scale * sum(profile[b]) + correction[b]
            )
            np.testing.assert_allclose(about[b], sum(moment[b]) + scale * sum(turning[b]))
