"""Drag and rates of a relaxed wake from made-up solves: equation (15) and central differences.

CDi = CDi_surface + (CDi - CDi_surface of the straight wake), as the module's text states; the rest
are sums. No other source.
"""

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from vlm.loads import relaxed_loads
from vlm.loads.many_wakes import StatesLoads, _widened, direction_of_angle
from vlm.loads.state import FlightState
from vlm.sides import across

RANDOM = np.random.default_rng(8)
STATE = FlightState(alpha=0.15, beta=-0.05, p_hat=0.01)
LATTICE: Any = SimpleNamespace(
    bodies=(), reference=SimpleNamespace(span=1.2, chord=0.2, area=0.24)
)  # fmt: skip


def tables() -> Any:
    return SimpleNamespace(wrench=RANDOM.normal(size=(2, 6, 6, 6)))


def surface_drag(wrench: np.ndarray) -> float:
    """Force along the wind of the flows' amounts."""
    u, wind = STATE.amounts(LATTICE.reference, 6), STATE.wind()
    return sum(
        float(wind @ wrench[p, a, b, :3]) * u[a] * u[b]
        for p in range(2) for a in range(6) for b in range(6)
    )  # fmt: skip


@pytest.mark.parametrize("empty", [False, True])
def test_drag_is_that_of_the_surface_but_for_what_it_errs_by(
    empty: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    far = {"straight": RANDOM.normal(size=(2, 6, 6)), "relaxed": RANDOM.normal(size=(2, 6, 6))}
    if empty:
        far["relaxed"] = 0.0 * far["relaxed"]
    near, relaxed = tables(), tables()
    monkeypatch.setattr(relaxed_loads, "trailing_rings", lambda lattice, rings: rings)
    monkeypatch.setattr(relaxed_loads, "drag_tables", lambda lattice, trace, rings: far[rings])
    monkeypatch.setattr(relaxed_loads, "surface_tables", lambda flows, fold_rates: near)
    monkeypatch.setattr(
        relaxed_loads,
        "unit_flows",
        lambda lattice, direction: SimpleNamespace(circulation="straight"),
    )
    flows: Any = SimpleNamespace(circulation="relaxed")
    found = relaxed_loads._drag(LATTICE, STATE, flows, relaxed, None)  # type: ignore[arg-type]
    if empty:
        assert not np.any(found)
        return
    u = STATE.amounts(LATTICE.reference, 6)
    wanted = surface_drag(relaxed.wrench) + u @ far["straight"].sum(axis=0) @ u
    wanted -= surface_drag(near.wrench)
    assert u @ found.sum(axis=0) @ u == pytest.approx(wanted)
    np.testing.assert_allclose(found / found[0, 0, 0], far["relaxed"] / far["relaxed"][0, 0, 0])


@pytest.mark.parametrize("settled", [True, False])
def test_rates_with_an_angle_are_central_differences(
    settled: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Over half a degree about the state, between the basis's flows; settled where both are."""
    slope = RANDOM.normal(size=(2, 6, 6, 6))
    seen: list[float] = []

    def solved(lattice: Any, state: FlightState, sizes: Any, start: Any) -> Any:
        assert (state.beta, start) == (STATE.beta, wake)
        seen.append(float(np.degrees(state.alpha - STATE.alpha)))
        return SimpleNamespace(flows=float(state.alpha), converged=settled or seen[-1] < 0.0)

    monkeypatch.setattr(relaxed_loads, "_relaxed", solved)
    monkeypatch.setattr(
        relaxed_loads, "surface_tables",
        lambda flows, fold_rates, basis: SimpleNamespace(wrench=(1.0 + flows) * slope),
    )  # fmt: skip
    wake = relaxed_loads.RelaxedWake.__new__(relaxed_loads.RelaxedWake)
    middle: Any = SimpleNamespace(flows=SimpleNamespace(wake=wake))
    basis: Any = SimpleNamespace(amounts=RANDOM.normal(size=(6, 2)))
    sizes: Any = None
    rate, converged = relaxed_loads._rate(LATTICE, STATE, sizes, middle, basis, "alpha")
    assert seen == pytest.approx([-0.25, 0.25])
    assert converged is settled
    wanted = np.einsum("pabc,ai,bj->pijc", slope, basis.amounts, basis.amounts)
    np.testing.assert_allclose(rate, wanted, rtol=1e-9, atol=1e-9)


def test_loads_of_several_states_are_stacked_in_their_shape() -> None:
    """Six states in two rows; bases of one and of two flows, the missing ones without amounts."""

    def one(index: int) -> Any:
        flows = 1 + index % 2
        own = SimpleNamespace(
            wrench=np.full((2, 3, 3, 6), float(index)), drag=np.full((2, 3, 3), 10.0 + index),
            strips=np.full((4, 3), 20.0 + index), best_efficiency=np.asarray(30.0 + index),
            basis=SimpleNamespace(amounts=np.ones((3, flows)), sign=np.ones(flows)),
            rates={"alpha": np.full((2, flows, flows, 6), 40.0 + index)},
        )  # fmt: skip
        return SimpleNamespace(
            tables=lambda state: own, condition=100.0 - index, lattice="lattice",
            can_be_mirrored=index < 5, mirrored=lambda: f"image {index}", columns=3,
        )  # fmt: skip

    loads = StatesLoads((2, 3), [one(i) for i in range(6)])
    found = loads.tables(FlightState(alpha=np.zeros((2, 3))))
    order = np.arange(6.0).reshape(2, 3)
    for name, first in (
        ("wrench", 0.0),
        ("drag", 10.0),
        ("strips", 20.0),
        ("best_efficiency", 30.0),
    ):
        array = getattr(found, name)
        np.testing.assert_array_equal(array.reshape(2, 3, -1)[..., 0], first + order)
    rates = found.rates["alpha"]
    assert (found.wrench.shape, rates.shape) == ((2, 3, 2, 3, 3, 6), (2, 3, 2, 2, 2, 6))
    np.testing.assert_array_equal(rates[0, 0, 0, :, :, 0], [[40.0, 0.0], [0.0, 0.0]])
    np.testing.assert_array_equal(rates[0, 1, 0, :, :, 0], 41.0)
    np.testing.assert_array_equal(found.basis.amounts[0, 0], [[1.0, 0.0]] * 3)
    assert (loads.condition, loads.can_be_mirrored, loads.columns) == (100.0, False, 3)
    assert loads.errors == {}
    with pytest.raises(ValueError, match="solved for other states"):
        loads.tables(FlightState(alpha=np.zeros(6)))
    np.testing.assert_array_equal(_widened(np.ones((2, 1)), 3, (1,)), [[1.0, 0.0, 0.0]] * 2)


def test_names_of_the_other_side_and_directions() -> None:
    names = ("hinge_moment_upper_left", "CL_fold_right", "CL_beta")
    assert [across(name) for name in names] == [
        "hinge_moment_upper_right", "CL_fold_left", "CL_beta",
    ]  # fmt: skip
    np.testing.assert_allclose(direction_of_angle(0.3), [np.cos(0.3), 0.0, np.sin(0.3)])
