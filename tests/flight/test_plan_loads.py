"""Loads that plans ask for, what a sweep's chunks must hold, shares of a mission's ±: by hand.

No source but the definitions (coefficients are moments over dynamic pressure, area and length) and
the rules stated in the modules; all numbers are invented.
"""

from types import SimpleNamespace

import numpy as np
import pytest

from vlm.errors import InputRefused
from vlm.flight.plan import fold_loads
from vlm.flight.plan.fold_loads import FoldLoads
from vlm.loads.loads_chart import ChartedLoads
from vlm.study.mission import sensitivity as mission_sensitivity
from vlm.study.sweep import expected
from vlm.study.sweep.plan import SweepPlan


def loads(errors=None):
    """Of 2 m^2 and 3 m span; charted where errors are given."""
    parts = {
        "reference": SimpleNamespace(area=2.0, span=3.0), "errors": errors,
        "lattice": SimpleNamespace(hinges={"upper_left": None, "upper_right": None}),
    }  # fmt: skip
    if errors is None:
        return SimpleNamespace(**parts)
    return object.__new__(type("Charted", (ChartedLoads,), parts))


class Engine:
    def __init__(self, made, refused=()):
        self.made, self.refused, self.asked = made, refused, []

    def loads(self, folds):
        self.asked.append((folds.left_deg, folds.right_deg))
        if self.asked[-1] in self.refused:
            raise InputRefused("surfaces cross")
        return self.made


def fold_loads_of(errors=None, air=None, refused=()):
    made = loads(errors)
    craft = SimpleNamespace(fold_range_deg=(-50.0, 20.0), all_drag_areas=(), rotors=())
    return FoldLoads(craft, air, Engine(made), Engine(made, refused))


@pytest.mark.parametrize(
    ("fold", "reserve", "pair"),
    [
        (0.0, 10.0, (-10.0, 10.0)),
        (15.0, 10.0, (5.0, 20.0)),
        (-45.0, 10.0, (-50.0, -35.0)),
        (0.0, 0.0, (0.0, 0.0)),
    ],
)
def test_a_roll_folds_starboard_up_and_port_down_in_limits(monkeypatch, fold, reserve, pair):
    """Cl of -0.01 at 20 m/s and 1.225 kg/m^3: times 245 Pa, 2 m^2 and 3 m."""
    seen = []

    def asked(found, state):
        seen.append(state)
        return SimpleNamespace(Cl=-0.01)

    monkeypatch.setattr(fold_loads, "coefficients", asked)
    made = fold_loads_of()
    assert made.roll_moment(fold, reserve, 5.0, 20.0) == pytest.approx(-0.01 * 245.0 * 6.0)
    assert made.pairs.asked == [pair]
    assert made.engine.asked == []
    assert np.degrees(seen[0].alpha) == pytest.approx(5.0)
    assert made.roll_miss(fold, reserve, 20.0) == 0.0


def test_the_air_s_own_density_counts(monkeypatch):
    monkeypatch.setattr(fold_loads, "coefficients", lambda *_: SimpleNamespace(Cl=1.0))
    thin = SimpleNamespace(density_kg_m3=0.5)
    assert fold_loads_of(air=thin).roll_moment(0.0, 1.0, 0.0, 20.0) == pytest.approx(100.0 * 6.0)


def test_a_setting_that_cannot_be_built_has_no_roll():
    made = fold_loads_of({"Cl": 0.1}, refused=[(-10.0, 10.0)])
    assert np.isnan(made.roll_moment(0.0, 10.0, 5.0, 20.0))
    assert made.roll_miss(0.0, 10.0, 20.0) == 0.0


def test_how_far_charted_loads_may_be_off():
    """Roll by dynamic pressure, area and span; hinges by density and airspeed squared, whose
    tables are for one of these."""
    errors = {"Cl": 0.001, "Cl_beta": 0.02, "hinge_moment_upper_left": 0.0004}
    made = fold_loads_of(errors)
    assert made.roll_miss(0.0, 10.0, 20.0) == pytest.approx(0.001 * 245.0 * 6.0)
    assert made.dihedral_miss(5.0) == 0.02
    assert made.hinge_misses(5.0, 20.0) == {
        "upper_left": pytest.approx(0.0004 * 490.0), "upper_right": 0.0
    }  # fmt: skip
    assert made.engine.asked == [(5.0, 5.0)] * 2
    exact = fold_loads_of()
    assert (exact.dihedral_miss(5.0), exact.exact) == (0.0, exact)


def test_charted_loads_keep_solved_ones_beside_them(monkeypatch):
    engines = []
    monkeypatch.setattr(
        fold_loads, "FoldEngine", lambda craft, grid, **more: engines.append((grid, more))
    )
    made = FoldLoads.of("craft", None, "grid", charted=True, reserve_deg=7.0)
    assert made.exact is made.solved
    assert made.solved.solved is None
    like, apart, *_ = engines
    assert {grid for grid, _ in engines} == {"grid"}
    assert like[1] == {"fold_rates": False, "charted": "like folds"}
    assert apart[1] == {
        "fold_rates": False, "sideslip": False, "charted": "like folds", "apart_deg": 14.0
    }  # fmt: skip
    assert [more["charted"] for _, more in engines[2:]] == ["none", "none"]
    FoldLoads.of("craft")
    assert engines[-1][0] == fold_loads.POWER_GRID
    assert engines[-1][1]["apart_deg"] == 0.0


def test_moments_about_hinges_and_the_dihedral_effect(monkeypatch):
    """Tables of one patch are for density and airspeed squared of one."""
    monkeypatch.setattr(
        fold_loads, "about_hinges", lambda lattice, each: {"upper_left": 2.0 * each[1, ..., 4]}
    )
    table = np.zeros((2, 3, 3, 6))
    table[1, 0, 2, 4] = 0.5
    one = SimpleNamespace(
        reference=None, columns=3, lattice=None,
        tables=lambda state: SimpleNamespace(wrench=table),
    )  # fmt: skip
    amounts = np.array([2.0, 9.0, 3.0])
    monkeypatch.setattr(fold_loads.FlightState, "amounts", lambda *_: amounts)
    made = fold_loads_of()
    made.engine.made = one
    found = made.hinge_moments(5.0, 3.0, 20.0)
    assert found == {"upper_left": pytest.approx(2.0 * 0.5 * 6.0 * 1.225 * 400.0)}
    monkeypatch.setattr(
        fold_loads, "derivatives",
        lambda of, state: {"body": {"Cl_beta": -float(np.degrees(state.alpha))},
                           "stability": {"Cl_beta": 9.0}},
    )  # fmt: skip
    assert made.dihedral_effect(5.0, 3.0, 20.0) == pytest.approx(-3.0)
    assert made.engine.asked == [(5.0, 5.0)] * 2


# --- chunks -------------------------------------------------------------------------------------

PLAN = SweepPlan((0.0, 10.0), (1.0, 2.0, 3.0), (0.0, 5.0), errors=True)


def contents(names=("CL", "CL_error", "CL_spread", "condition", "residual")):
    cases = PLAN.cases()
    made = expected.SweepContents(None, PLAN, [cases[:1], cases[1:]])
    made.__dict__["names"] = frozenset(names)
    return made


def values(**changes):
    whole = {name: np.zeros((3, 2)) for name in ("CL", "CL_error", "CL_spread")}
    whole |= {"condition": np.array(5.0), "residual": np.array(1e-12), "findings": []}
    return {k: v for k, v in {**whole, **changes}.items() if v is not None}


@pytest.mark.parametrize(
    ("changes", "fits"),
    [
        ({}, True),
        ({"more": np.zeros((3, 2))}, True),
        ({"CL": None}, False),
        ({"CL_error": None}, False),
        ({"findings": None}, False),
        ({"CL": np.zeros((2, 3))}, False),
        ({"CL": np.zeros((3, 2), dtype=int)}, False),
        ({"CL": "0.5"}, False),
        ({"condition": np.zeros((3, 2))}, False),
        ({"residual": np.array(2.0 * expected.RESIDUAL_LIMIT)}, False),
        ({"residual": np.array(-2.0 * expected.RESIDUAL_LIMIT)}, False),
        ({"residual": np.array(expected.RESIDUAL_LIMIT)}, True),
        ({"failure": "x"}, False),
    ],
)
def test_what_a_case_of_a_chunk_must_hold(changes, fits):
    assert contents().fits(1, [values(**changes)]) is fits


def test_a_chunk_has_its_cases_or_their_failure():
    made = contents()
    assert made.fits(0, [{"failure": "surfaces cross"}])
    for index, results in ((-1, [values()]), (2, [values()]), (0, []), (1, [values(), values()])):
        assert not made.fits(index, results)
    case = made._chunks[0][0]
    made._chunks = [[case.__class__(case.place, case.folds, errors=False)]]
    assert made.fits(0, [values(CL_error=None, CL_spread=None)])
    assert not made.fits(0, [values(CL=None, CL_error=None)])


@pytest.mark.parametrize("errors", [True, False])
def test_names_of_quantities_come_from_the_coarsest_lattice(monkeypatch, errors):
    monkeypatch.setattr(expected, "build_cellule", lambda craft, grid: grid)
    monkeypatch.setattr(expected, "build_lattice", lambda *_: None)
    monkeypatch.setattr(expected, "craft_loads", lambda *_: None)
    for name in ("surface_areas", "tip_sizes"):
        monkeypatch.setattr(expected, name, lambda grid: (grid.rows, grid.strips))
    sizes = (1, expected.FEWEST_STRIPS)

    def evaluated(of, state, areas, tips):
        assert (areas, tips) == (sizes, sizes)
        return {"CL": 0.0, "CY_p": 0.0}

    monkeypatch.setattr(expected, "evaluated", evaluated)
    plan = SweepPlan((0.0,), errors=errors)
    found = expected.SweepContents(None, plan, []).names
    more = {"CL_error", "CY_p_error", "CL_spread"} if errors else set()
    assert found == {"CL", "CY_p", "condition", "residual"} | more


def test_a_craft_that_cannot_be_computed_flat_has_no_names_beforehand(monkeypatch):
    def refuse(*_):
        raise InputRefused("surfaces cross")

    monkeypatch.setattr(expected, "build_cellule", refuse)
    assert expected.SweepContents(None, PLAN, []).names == frozenset()


# --- what a mission's ± is made of --------------------------------------------------------------

COUNT = 400
NORMAL = np.random.default_rng(4).normal(size=(COUNT, 1))


def candidate(name, group, energy_wh, slope_wh):
    samples = None if slope_wh is None else 3600.0 * (energy_wh + slope_wh * NORMAL[:, 0])
    return SimpleNamespace(
        name=name, group=group, energy=3600.0 * energy_wh, samples=samples, flight=slope_wh
    )


def studied(monkeypatch, **others):
    draws = SimpleNamespace(
        inputs=(SimpleNamespace(name="mass_percent"),), normal=NORMAL, percent=90.0,
        factors=np.arange(COUNT), shifts=-np.arange(COUNT), keys="keys",
    )  # fmt: skip
    monkeypatch.setattr(mission_sensitivity, "check_uncertainty", lambda craft: None)
    monkeypatch.setattr(
        mission_sensitivity, "drawn_energy",
        lambda flight, factors, keys, shifts: 3600.0 * (flight + factors + 0.5 * shifts),
    )  # fmt: skip
    plain = {"held": [], "best_fixed": None, "best_purpose_built": None}
    study = SimpleNamespace(
        craft=None, draws=draws, schedule=candidate("folded", "schedule", 10.0, 2.0),
        **{**plain, **others},
    )  # fmt: skip
    return mission_sensitivity.mission_sensitivity(study)


def test_energies_and_savings_are_shared_out_in_watt_hours(monkeypatch):
    """Slopes 2 along the schedule; against 12 Wh of slope 5: saves 2, slope 3. The middle 90 % of a
    normal distribution reach 1.645 deviations; here those of the draws themselves."""
    held = [candidate("a", "held", 99.0, 1.0), candidate("b", "held", 12.0, 5.0)]
    found = studied(monkeypatch, held=held)
    low, high = np.percentile(NORMAL, [5.0, 95.0])
    assert [(a.group, a.name, a.unit) for a in found.answers] == [
        ("along the schedule", "energy", "Wh"),
        ("saved by folding", "against best with the mechanism held", "Wh"),
    ]
    for answer, value, slope in zip(found.answers, (10.0, 2.0), (2.0, 3.0), strict=True):
        assert answer.value == pytest.approx(value)
        assert answer.half_width == pytest.approx(slope * max(high, -low))
        assert answer.slopes == pytest.approx([slope])
    (check,) = found.checks
    assert (check.what, check.unit) == ("along the schedule, energy", "Wh")
    assert check.value == pytest.approx(10.0)
    assert check.half_width == pytest.approx(2.0 * max(high, -low))
    np.testing.assert_allclose(check.tabled, 10.0 + 2.0 * NORMAL[:4, 0])
    np.testing.assert_allclose(check.direct, 2.0 + 0.5 * np.arange(4))


def test_a_rival_is_named_once_and_one_without_draws_not_at_all(monkeypatch):
    fixed, free = candidate("a", "fixed", 12.0, 5.0), candidate("b", "respanned", 13.0, 1.0)
    found = studied(monkeypatch, best_fixed=fixed, best_purpose_built=fixed)
    assert [a.name for a in found.answers] == ["energy", "against same tips, no mechanism"]
    assert [c.what for c in found.checks] == ["along the schedule, energy", "a, energy"]
    found = studied(monkeypatch, best_fixed=fixed, best_purpose_built=free)
    assert [a.name for a in found.answers][2:] == ["against span free, no mechanism"]
    without = candidate("a", "fixed", 12.0, None)
    found = studied(monkeypatch, best_fixed=without)
    assert len(found.answers) == len(found.checks) == 1
