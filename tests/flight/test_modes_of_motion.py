"""Small-disturbance modes against a textbook's airliner, and the equations' own symmetries."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.spatial.transform import Rotation

from vlm.flight.craft.small_motions import (
    SmallMotion,
    coupled_matrix,
    lateral_matrix,
    longitudinal_matrix,
    state_space,
)
from vlm.flight.motion import modes
from vlm.flight.motion.modes import Mode, coupled_modes, lateral_modes, longitudinal_modes

# Etkin & Reid, Dynamics of Flight, 3rd ed., chapter 6: a four-jet airliner in cruise at
# 40 000 ft, Mach 0.8. Its dimensional derivatives, state matrices and roots, all from memory:
# the remembered derivatives reproduce the remembered roots, which a slip in one would not.


def airliner_longitudinal() -> SmallMotion:
    """Pounds, feet, slugs, as in the book's table."""
    rates, accelerations = np.zeros((6, 6)), np.zeros((6, 6))
    rates[[0, 2, 4], 0] = -1.358e2, -1.778e3, 3.581e3
    rates[[0, 2, 4], 2] = 2.758e2, -6.188e3, -3.515e4
    rates[[2, 4], 4] = -1.017e5, -1.122e7
    accelerations[[2, 4], 2] = 1.308e2, -3.826e3
    return SmallMotion(
        mass=636636.0 / 32.2,
        inertia=np.diag([0.183e8, 0.331e8, 0.497e8]),
        velocity=np.array([774.0, 0.0, 0.0]),
        gravity=np.array([0.0, 0.0, 32.2]),
        rates=rates,
        accelerations=accelerations,
    )


def airliner_lateral() -> SmallMotion:
    """SI units, as in the book's second column."""
    rates = np.zeros((6, 6))
    rates[[1, 3, 5], 1] = -1.610e4, -3.062e5, 2.131e5
    rates[[3, 5], 3] = -1.076e7, -1.330e6
    rates[[3, 5], 5] = 9.925e6, -8.934e6
    inertia = np.diag([0.247e8, 0.449e8, 0.673e8])
    inertia[0, 2] = inertia[2, 0] = 0.212e7
    return SmallMotion(
        mass=2.83176e6 / 9.81,
        inertia=inertia,
        velocity=np.array([235.9, 0.0, 0.0]),
        gravity=np.array([0.0, 0.0, 9.81]),
        rates=rates,
    )


def by_name(modes: list[Mode]) -> dict[str, Mode]:
    return {mode.name: mode for mode in modes}


def test_etkin_reid_airliner_longitudinal_matrix() -> None:
    expected = [
        [-0.006868, 0.01395, 0.0, -32.2],
        [-0.09055, -0.3151, 773.98, 0.0],
        [0.0001187, -0.001026, -0.4285, 0.0],
        [0.0, 0.0, 1.0, 0.0],
    ]
    assert_allclose(longitudinal_matrix(airliner_longitudinal()), expected, rtol=6e-4, atol=1e-12)


def test_etkin_reid_airliner_longitudinal_modes() -> None:
    modes = by_name(longitudinal_modes(longitudinal_matrix(airliner_longitudinal())))
    assert modes["phugoid"].root == pytest.approx(-0.003289 + 0.06723j, rel=3e-4)
    assert modes["short period"].root == pytest.approx(-0.3719 + 0.8875j, rel=3e-4)
    assert modes["phugoid"].period == pytest.approx(93.4, abs=0.1)
    assert modes["phugoid"].half_time == pytest.approx(211.0, abs=1.0)
    assert modes["short period"].period == pytest.approx(7.08, abs=0.01)
    assert modes["short period"].half_time == pytest.approx(1.86, abs=0.01)


def test_etkin_reid_airliner_lateral_modes() -> None:
    """The tables round the inertias to three digits: the roots follow to about 0.5 %."""
    modes = by_name(lateral_modes(lateral_matrix(airliner_lateral())))
    assert modes["Dutch roll"].root == pytest.approx(-0.033011 + 0.94655j, rel=2e-3)
    assert modes["roll subsidence"].root.real == pytest.approx(-0.56248, rel=3e-3)
    assert modes["spiral"].root.real == pytest.approx(-0.0072973, rel=8e-3)
    assert modes["spiral"].half_time == pytest.approx(95.0, rel=1e-2)


def test_both_blocks_together_are_the_coupled_craft() -> None:
    """A symmetric craft's coupled roots are the two blocks' roots and one zero of heading."""
    long, lat = airliner_longitudinal(), airliner_lateral()
    both = SmallMotion(
        lat.mass,
        lat.inertia,
        lat.velocity,
        np.array([-9.81 * np.sin(0.05), 0.0, 9.81 * np.cos(0.05)]),
        lat.rates + long.rates * 10.0,
        np.zeros((6, 6)),
    )
    blocks = np.concatenate(
        [np.linalg.eigvals(longitudinal_matrix(both)), np.linalg.eigvals(lateral_matrix(both))]
    )
    coupled = np.linalg.eigvals(coupled_matrix(both))
    assert_allclose(np.sort_complex(np.append(blocks, 0.0)), np.sort_complex(coupled), atol=1e-10)


@pytest.mark.parametrize("bank_deg", [30.0, 90.0, 180.0])
def test_craft_turned_about_its_roll_axis_keeps_its_modes(bank_deg: float) -> None:
    """Wings on edge, but the same air and weight in the craft's own axes: the same roots."""
    random = np.random.default_rng(8)
    lat = airliner_lateral()
    rates = lat.rates + airliner_longitudinal().rates * random.uniform(1.0, 9.0)
    craft = SmallMotion(lat.mass, lat.inertia, np.array([235.0, 0.0, 20.0]), lat.gravity, rates)
    turned = craft.turned(Rotation.from_euler("x", bank_deg, degrees=True).as_matrix())
    expected = [mode.root for mode in coupled_modes(coupled_matrix(craft))]
    found = [mode.root for mode in coupled_modes(coupled_matrix(turned))]
    assert_allclose(np.sort_complex(found), np.sort_complex(expected), atol=1e-9)


def test_roll_alone_decays_with_its_closed_form() -> None:
    """Only damping in roll: one root at L_p / I_x, as every text has it."""
    rates = np.zeros((6, 6))
    rates[3, 3] = -0.3
    craft = SmallMotion(
        1.0, np.diag([0.05, 0.1, 0.1]), np.array([12.0, 0.0, 0.0]), np.array([0, 0, 9.81]), rates
    )
    modes = lateral_modes(lateral_matrix(craft))
    assert modes[0].name == "roll subsidence"
    assert modes[0].root.real == pytest.approx(-6.0)
    assert modes[0].half_time == pytest.approx(np.log(2.0) / 6.0)


def test_lanchester_phugoid() -> None:
    """Lanchester (1908): a craft that keeps its angle of attack has a phugoid of period
    pi sqrt(2) U / g. Lift as U^2, no drag, stiff in pitch."""
    mass, speed, gravity = 2.0, 15.0, 9.81
    rates = np.zeros((6, 6))
    rates[2, 0] = -2.0 * mass * gravity / speed
    rates[2, 2] = -4.0
    rates[4, 2], rates[4, 4] = -4e4, -4e2
    craft = SmallMotion(
        mass, np.diag([1.0, 1.0, 1.0]), np.array([speed, 0, 0]), np.array([0, 0, gravity]), rates
    )
    phugoid = by_name(longitudinal_modes(longitudinal_matrix(craft)))["phugoid"]
    assert phugoid.period == pytest.approx(np.pi * np.sqrt(2.0) * speed / gravity, rel=1e-3)


def block_matrix(*blocks: np.ndarray) -> np.ndarray:
    from scipy.linalg import block_diag

    return np.asarray(block_diag(*blocks))


def mixed(*pairs_of_states: tuple[int, int], roots: dict[int, float], pair: complex) -> np.ndarray:
    """A matrix whose pair lives in two states alone, and whose real roots in one state each."""
    matrix = np.zeros((4, 4))
    for state, root in roots.items():
        matrix[state, state] = root
    for first, second in pairs_of_states:
        matrix[first, first] = matrix[second, second] = pair.real
        matrix[first, second], matrix[second, first] = pair.imag, -pair.imag
    return matrix


V, P, R, PHI = range(4)
U, W, Q, THETA = range(4)


@pytest.mark.parametrize(
    ("matrix", "names"),
    [
        (np.diag([-8.0, 3.0, -2.0, 0.1]),
         ["sideslip subsidence", "roll divergence", "spiral", "spiral"]),
        (mixed((V, R), roots={P: -8.0, PHI: 0.01}, pair=-0.2 + 3.0j),
         ["roll subsidence", "Dutch roll", "spiral"]),
        (mixed((P, PHI), roots={R: -1.0, V: 0.01}, pair=-3.5 + 3.0j),
         ["rolling oscillation", "spiral", "sideslip divergence"]),
        (mixed((R, PHI), roots={P: -8.0, V: -2.0}, pair=0.1 + 0.5j),
         ["roll subsidence", "sideslip subsidence", "spiral oscillation"]),
    ],
)  # fmt: skip
def test_lateral_modes_are_named_by_their_own_states(matrix: np.ndarray, names: list[str]) -> None:
    assert [mode.name for mode in lateral_modes(matrix)] == names


@pytest.mark.parametrize(
    ("matrix", "names"),
    [
        (mixed((U, THETA), roots={W: -6.0, Q: 4.0}, pair=-0.01 + 0.6j),
         ["pitch subsidence", "pitch divergence", "phugoid"]),
        (mixed((U, W), roots={Q: -6.0, THETA: 0.1}, pair=0.2 + 2.0j),
         ["pitch subsidence", "speed-and-pitch oscillation", "speed divergence"]),
        (mixed((W, Q), roots={U: -0.2, THETA: 0.1}, pair=-3.0 + 5.0j),
         ["short period", "speed subsidence", "speed divergence"]),
    ],
)  # fmt: skip
def test_longitudinal_modes_are_named_by_their_own_states(
    matrix: np.ndarray, names: list[str]
) -> None:
    assert [mode.name for mode in longitudinal_modes(matrix)] == names


def test_participation_does_not_depend_on_the_units_of_the_states() -> None:
    matrix = lateral_matrix(airliner_lateral())
    scale = np.diag([10.0, 0.01, 3.0, 57.3])
    turned = scale @ matrix @ np.linalg.inv(scale)
    for one, other in zip(lateral_modes(matrix), lateral_modes(turned), strict=True):
        assert one.participation == pytest.approx(other.participation, rel=1e-9)
        assert sum(one.participation) == pytest.approx(1.0)


def test_growth_error_bounds_what_small_changes_of_the_matrix_do() -> None:
    """Random changes within the half-widths, solved outright, stay within the first-order bound,
    and the change that points along the slopes reaches it."""
    random = np.random.default_rng(3)
    matrix = lateral_matrix(airliner_lateral())
    width = 1e-5 * np.abs(random.normal(size=(4, 4)))
    modes = lateral_modes(matrix, width)
    reached = np.zeros(len(modes))
    for _ in range(400):
        moved = lateral_modes(matrix + width * random.choice([-1.0, 1.0], size=(4, 4)))
        for i, (one, other) in enumerate(zip(modes, moved, strict=True)):
            change = abs(other.root.real - one.root.real)
            assert change <= 1.02 * one.growth_error + 1e-12
            reached[i] = max(reached[i], change / one.growth_error)
    assert np.all(reached > 0.5)


def test_time_to_double_is_what_the_equations_do() -> None:
    """The named growth against the motion itself, stepped by the general library."""
    from scipy.linalg import expm

    matrix = block_matrix([[0.35]], [[-3.0]], [[-0.5, 2.0], [-2.0, -0.5]])
    spiral = lateral_modes(matrix)[-1]
    assert spiral.double_time is not None
    grown = expm(matrix * spiral.double_time) @ np.array([1.0, 0.0, 0.0, 0.0])
    assert grown[0] == pytest.approx(2.0, rel=1e-9)


def test_state_space_moves_as_its_matrix_does() -> None:
    from scipy.linalg import expm
    from scipy.signal import lsim

    matrix = lateral_matrix(airliner_lateral())
    start = np.array([1.0, 0.02, -0.01, 0.1])
    times = np.linspace(0.0, 8.0, 41)
    system = state_space(matrix)
    _, _, states = lsim(system, np.zeros((41, 4)), times, X0=start)
    assert_allclose(states[-1], expm(matrix * 8.0) @ start, rtol=1e-9)


@pytest.mark.parametrize(("stiffness", "roots"), [(-0.05, (0.1, -0.5)), (0.03, (-0.1, -0.3))])
def test_a_pair_that_parts_into_real_roots_is_off_by_the_farther(
    stiffness: float, roots: tuple[float, float]
) -> None:
    """x'' + 0.4 x' + k x = 0 from k = 0.1, roots -0.2 +- 0.245 i, to another k, by the formula of
    the quadratic; and the matrix itself at the other end."""
    middle, end = (np.array([[0.0, 1.0], [-k, -0.4]]) for k in (0.1, stiffness))
    assert np.sort(np.linalg.eigvals(end)) == pytest.approx(sorted(roots))
    (pair,) = modes._modes(middle, np.zeros((2, 2)), (end, middle))
    assert pair.root.real == pytest.approx(-0.2)
    assert pair.growth_error == pytest.approx(max(abs(root + 0.2) for root in roots))


def test_real_roots_that_meet_are_each_off_to_the_pair() -> None:
    """From -0.1 and -0.3 to -0.2 +- 0.245 i: neither grows."""
    middle, end = (np.array([[0.0, 1.0], [-k, -0.4]]) for k in (0.03, 0.1))
    found = modes._modes(middle, np.zeros((2, 2)), (end,))
    assert [mode.growth_error for mode in found] == pytest.approx([0.1, 0.1])


def test_what_is_not_known_of_an_end_is_not_known_of_the_root() -> None:
    matrix = np.array([[0.0, 1.0], [-0.1, -0.4]])
    (pair,) = modes._modes(matrix, np.zeros((2, 2)), (matrix * np.nan,))
    assert np.isnan(pair.growth_error)
