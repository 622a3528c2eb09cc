"""Rows of the power curves' document, exported tables and a scene's half-widths, by hand.

No source but the rules stated in the modules; all numbers are invented.
"""

from types import SimpleNamespace

import numpy as np
import pytest

from vlm.flight.craft.section_change import SectionStrips
from vlm.study.convergence import study as convergence
from vlm.study.export import tables as export_tables
from vlm.study.point import session
from vlm.study.point.session import Session
from vlm.study.power import results as power_results
from vlm.study.power.results import POWER
from vlm.study.sweep import workers

# --- power --------------------------------------------------------------------------------------


class Curve(SimpleNamespace):
    def values(self, name):
        return self.power if name == POWER else np.zeros(len(self.power))


def power_study(monkeypatch, sampled=True):
    """Powers of two settings at three airspeeds; the second may not be flown at the first."""
    monkeypatch.setattr(power_results, "branches_document", lambda branches: "branches")
    nan = np.nan
    problem = SimpleNamespace(craft=SimpleNamespace(propulsion="drive"))
    a = Curve(power=np.array([100.0, 50.0, 80.0]), allowed=np.array([True, True, True]),
              problem=problem, points=())  # fmt: skip
    b = Curve(power=np.array([90.0, 60.0, 60.0]), allowed=np.array([False, True, True]),
              problem=problem, points=())  # fmt: skip
    offsets = np.arange(-50.0, 51.0)[:, None]
    samples = {
        "a": {"power": a.power + 0.0 * offsets, "margin": offsets + np.zeros(3)},
        "b": {"power": b.power + 0.1 * offsets, "margin": 2.0 * offsets + np.zeros(3)},
    }
    others = ("body_angle", "stall_margin", "thrust", "wing_share")
    of_trims = dict.fromkeys(others, np.radians(offsets) + np.zeros(3))
    samples = {name: SimpleNamespace(**own, **of_trims) for name, own in samples.items()}
    samples["b"].power[:, 2] = nan
    uncertainty = SimpleNamespace(keys={"k": 1.0}, interval_percent=90.0,
                                  **{f"{n}_percent": float(i) for i, n in
                                     enumerate(power_results.INPUTS)})  # fmt: skip
    return SimpleNamespace(
        curves={"a": a, "b": b}, sampled=samples if sampled else {},
        craft=SimpleNamespace(uncertainty=uncertainty),
        draws=SimpleNamespace(factors=np.zeros((101, 8)), percent=90.0),
        plan=SimpleNamespace(
            settings=dict.fromkeys("ab", SimpleNamespace(left_deg=1.0, right_deg=2.0)),
            body_angles_deg=(30.0,),
        ),
        breakdowns=dict.fromkeys(
            "ab", SimpleNamespace(values={}, rotors={}, driven=(), nearest_limit=())
        ),
        branches={"a": None, "b": None}, at_body_angles={"a": {30.0: [7.0]}, "b": {30.0: []}},
    )  # fmt: skip


def test_differences_in_watts_and_per_cent_with_intervals(monkeypatch):
    """The middle 90 % of 101 even draws 10 W wide reach from -4.5 to 4.5."""
    found = power_results._difference(power_study(monkeypatch), "a", "b")
    np.testing.assert_allclose(found["difference_W"], [np.nan, 10.0, -20.0])
    np.testing.assert_allclose(found["difference_percent"], [np.nan, 20.0, -25.0])
    np.testing.assert_allclose(found["difference_W_low"], [np.nan, 5.5, np.nan])
    np.testing.assert_allclose(found["difference_W_high"], [np.nan, 14.5, np.nan])
    np.testing.assert_allclose(found["difference_percent_low"], [np.nan, 11.0, np.nan])
    np.testing.assert_allclose(found["difference_percent_high"], [np.nan, 29.0, np.nan])
    plain = power_results._difference(power_study(monkeypatch, sampled=False), "a", "b")
    assert set(plain) == {"first", "second", "difference_W", "difference_percent"}


def test_a_setting_s_rows_and_intervals(monkeypatch):
    monkeypatch.setattr(power_results, "endurance", lambda drive, power: 6000.0 / power)
    study = power_study(monkeypatch)
    found = power_results._configuration(study, "b", {}, {"best": np.arange(101.0)})
    np.testing.assert_allclose(found["endurance_min"], 100.0 / study.curves["b"].power)
    assert (found["fold_left_deg"], found["fold_right_deg"]) == (1.0, 2.0)
    np.testing.assert_allclose(found[f"{POWER}_low"], [85.5, 55.5, np.nan])
    np.testing.assert_allclose(found[f"{POWER}_high"], [94.5, 64.5, np.nan])
    np.testing.assert_allclose(found["limit_margin_low"], -90.0)
    np.testing.assert_allclose(found["limit_margin_high"], 90.0)
    np.testing.assert_allclose(found["body_angle_deg_low"], -45.0)
    np.testing.assert_allclose(found["thrust_N_high"], np.radians(45.0))
    assert found["speed_intervals"] == {"best": pytest.approx((5.0, 95.0))}
    assert found["speeds_at_body_angle_m_s"] == [[]]
    assert "speed_intervals" not in power_results._configuration(study, "b", {}, None)


def test_what_is_uncertain(monkeypatch):
    """Of the six columns of samples one has no trim: the share is the mean over settings."""
    study = power_study(monkeypatch)
    found = power_results._uncertainty(study)
    assert found["samples"] == 101
    assert found["interval_percent"] == 90.0
    assert found["share_of_samples_trimmed"] == pytest.approx(5.0 / 6.0)
    names = power_results.INPUTS
    assert found["standard_deviation_percent"] == {n: float(i) for i, n in enumerate(names)}
    study.draws = None
    assert power_results._uncertainty(study) is None


# --- exported tables ----------------------------------------------------------------------------


def plan(alphas=(-4.0, 18.0, 19.0), betas=(-5.0, 0.0, 5.0)):
    return SimpleNamespace(alphas=alphas, betas=betas)


def test_where_exported_tables_are_valid(monkeypatch):
    """Less than a twentieth stalled, 18 degrees of attack at most, and sideslips that hold."""
    monkeypatch.setattr(export_tables, "holds_in_sideslip", lambda folding, size: size < 4.0)
    stalled = np.zeros((2, 1, 3, 3))
    stalled[1, 0, 0, 1] = 0.05
    found = export_tables._valid(None, stalled, plan())
    expected = np.zeros((2, 1, 3, 3), dtype=bool)
    expected[:, :, :2, 1] = True
    expected[1, 0, 0, 1] = False
    np.testing.assert_array_equal(found, expected)


def test_the_wake_s_share_in_exported_coefficients(monkeypatch):
    """Hinges by the tip's volume over that of the craft: 0.5 x 0.2 over 2 x 0.5."""
    asked = []

    def wake(loads, state):
        asked.append((loads, np.degrees(state.alpha).round(9).tolist(),
                      np.degrees(state.beta).round(9).tolist()))  # fmt: skip
        size = np.full(state.alpha.shape, float(len(asked)))
        return {**dict.fromkeys(("CL", "CDi", "Cl", "Cm", "Cn"), size), export_tables.HINGE: size}

    monkeypatch.setattr(export_tables, "wake_spread", wake)
    monkeypatch.setattr(export_tables, "tip_sizes", lambda cellule: {"upper": (0.5, 0.2)})
    reference = SimpleNamespace(area=2.0, span=3.0, chord=0.5)

    class Folding:
        engine = SimpleNamespace(cellule=None)

        def symmetric(self, fold):
            return SimpleNamespace(loads=SimpleNamespace(reference=reference))

        def at(self, folds):
            return SimpleNamespace(loads=(round(folds.left_deg, 9), round(folds.right_deg, 9)))

    plant = SimpleNamespace(
        air=SimpleNamespace(points=(np.radians([0.0, 10.0]), np.radians([20.0])), wide=7),
        bodies=SimpleNamespace(tips=[SimpleNamespace(body="upper_left")]),
    )
    found = export_tables._model_widths(Folding(), plant, plan((0.0, 90.0), (0.0, 5.0)))
    assert found.shape == (2, 1, 2, 2, 7)
    assert [one[0] for one in asked] == [(0.0, 20.0), (10.0, 20.0)]
    assert asked[0][1:] == ([0.0, 0.0, 90.0, 90.0], [0.0, 5.0, 0.0, 5.0])
    np.testing.assert_allclose(found[0, 0, 0, 1], [1, 0, 1, 1, 1, 1, 0.1])
    np.testing.assert_allclose(found[1, 0, 1, 0], [2, 0, 2, 2, 2, 2, 0.2])


def test_apparent_masses_are_those_of_the_air_s_density():
    values = np.arange(2.0 * 49).reshape(2, 7, 7)
    plant = SimpleNamespace(
        air=SimpleNamespace(points=(np.zeros(2), np.zeros(1))), sections=None, density=1.1,
        bodies=SimpleNamespace(tips=[SimpleNamespace(body="upper_left")]), apparent=values,
        posed=lambda folds: None,
    )  # fmt: skip
    data, coordinates = export_tables._physical(plant, plan())
    dims, table, _ = data["apparent_mass"]
    assert dims == ("fold_left", "fold_right", "motion", "rate_of")
    np.testing.assert_allclose(table, 1.1 * values.reshape(2, 1, 7, 7))
    assert coordinates["motion"][1] == ["u", "v", "w", "p", "q", "r", "tip upper_left"]
    plant.apparent = None
    assert export_tables._physical(plant, plan()) == ({}, {})


# --- a scene ------------------------------------------------------------------------------------


def test_a_scene_s_half_widths_add_model_floor_and_chart(monkeypatch):
    """0.1 of the model, twice the floor of 0.02 on this lattice, 0.005 missed by the chart."""
    for name, found in {
        "surface_areas": None, "tip_sizes": None, "evaluated": {},
        "error_floors": {"CL": 0.02}, "model_spread": {"CL": 0.1, "Cl": 0.3},
    }.items():  # fmt: skip
        monkeypatch.setattr(session, name, lambda *_, _found=found: _found)
    monkeypatch.setattr(session, "refinement", lambda grid: 2.0)
    made = object.__new__(Session)
    made._engine = SimpleNamespace(grid=None, cellule=None)
    found = made._half_widths(SimpleNamespace(errors={"CL": 0.005, "CDi": 9.0}), None)
    assert found == {"CL": pytest.approx(0.145), "Cl": pytest.approx(0.3)}


# --- workers ------------------------------------------------------------------------------------


@pytest.mark.parametrize("way", ["give", "take"])
def test_a_worker_that_is_gone_is_reported_of(way):
    """A closed pipe at either end; the exit code is that of the process."""

    def closed(*_):
        raise OSError("broken pipe")

    made = object.__new__(workers._Worker)
    made.pipe = SimpleNamespace(send=closed, recv=closed)
    made._process = SimpleNamespace(join=lambda seconds: None, exitcode=-9)
    with pytest.raises(workers.ComputationFailed, match="exit code -9"):
        made.give((3, None)) if way == "give" else made.take()


def test_a_worker_s_answer_comes_with_its_piece_and_its_error_is_raised():
    sent = []
    made = object.__new__(workers._Worker)
    made.pipe = SimpleNamespace(send=sent.append, recv=lambda: "answer")
    made.give((3, "work"))
    assert sent == ["work"]
    assert made.take() == (3, "answer")
    made.pipe.recv = lambda: ValueError("no")
    with pytest.raises(ValueError, match="no"):
        made.take()


def test_pieces_of_one_process_are_worked_off_here():
    for count, pieces in ((1, [(5, 2), (7, 3)]), (4, [(5, 2)])):
        with workers.local_work(lambda piece: 10 * piece, pieces, count) as found:
            assert list(found) == [(number, 10 * piece) for number, piece in pieces]


def test_a_panel_carries_its_bound_segment_and_half_of_each_side_an_edge_s_whole():
    """One row of three panels: bound forces 1, 2 and 3, sides 10, 20, 40 and 80."""
    forces = np.zeros((7, 3))
    forces[:, 2] = (1, 2, 3, 10, 20, 40, 80)
    patch = SimpleNamespace(rows=1, strips=3)
    found = session._panel_forces(SimpleNamespace(patch=patch, forces=forces))
    assert found.shape == (1, 3, 3)
    assert found[0, :, 2].tolist() == [1 + 10 + 10, 2 + 10 + 20, 3 + 20 + 80]


@pytest.mark.parametrize(("share", "side"), [(1.0, 1.0), (0.5, 1.0), (1.0, -1.0)])
def test_pressure_is_the_force_across_a_panel_over_its_area(share, side):
    """A panel of 0.5 m by 2 m with 3 N across it: 3 Pa; 1.5 N a metre of its strip. A fin in the
    plane of symmetry, half of it on either side, carries both."""
    nodes = np.array([[[0.0, 0, 0], [0.0, 2, 0]], [[0.5, 0, 0], [0.5, 2, 0]]])
    patch = SimpleNamespace(
        rows=1, strips=1, nodes=nodes, normals=np.array([[[0.0, 0, side]]]), share=share,
        width=np.array([2.0]), wing="upper", side="left", part="main",
    )  # fmt: skip
    forces = SimpleNamespace(patch=patch, forces=np.array([[9.0, 9, 3], [0, 0, 0], [0, 0, 0]]))
    grid = SimpleNamespace(chord_law="uniform")
    loads = SimpleNamespace(lattice=SimpleNamespace(grid=grid))
    patch.nodes = np.array([nodes[0] + [0.125, 0, 0], nodes[1]])  # the first vortex: a quarter on
    view = session.surface_view(loads, forces)
    np.testing.assert_allclose(view.corners, nodes)
    assert view.pressure[0, 0] == pytest.approx(side * 3.0 / share)
    assert view.strip_load[0] == pytest.approx(side * 1.5 / share)
    np.testing.assert_allclose(view.strip_normal[0], [0, 0, side])


# --- sizes, pressures -----------------------------------------------------------------------------


def test_quantities_that_are_zero_by_symmetry_have_no_size(monkeypatch):
    """Those of less than a share of the largest, or of none."""
    names = tuple(convergence.ESTIMATED)
    sizes = dict.fromkeys(names, 4.0)
    small, known, none = names[0], names[1], names[2]
    sizes[small], sizes[known], sizes[none] = (
        0.9 * convergence.NO_SIZE * 4.0, 1.1 * convergence.NO_SIZE * 4.0, np.nan
    )  # fmt: skip
    monkeypatch.setattr(convergence, "natural_sizes", lambda *_: dict(sizes))
    monkeypatch.setattr(convergence, "coefficients", lambda *_: None)
    monkeypatch.setattr(convergence, "asdict", lambda values: {})
    monkeypatch.setattr(convergence, "span_efficiency_size", lambda values, of: 4.0)
    found = convergence._sizes(None, None)
    assert set(found) == set(names) - {small, none}


def test_dynamic_pressure_in_a_slipstream_over_that_of_the_stream():
    """3 and 4 m/s with 2 m/s more aft on one strip: (5^2 + 4^2)/25 = 1.64; the other as it is."""
    made = SimpleNamespace(
        model=SimpleNamespace(controls=[0, 1], strip_means=lambda values: values),
        wind=lambda stream, density, thrusts: np.array([[[2.0, 0, 0], [0, 0, 0], [9, 9, 9]]]),
    )
    found = SectionStrips.pressure_ratios(made, np.array([[3.0, 0.0, 4.0]]), 1.2, np.ones(1))
    np.testing.assert_allclose(found, [[41.0 / 25.0, 1.0]])
