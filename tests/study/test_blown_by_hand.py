"""A point with slipstream, shapes that move, wakes made otherwise, a report's folds: by hand.

No source but the rules stated in the modules; all numbers are invented.
"""

from dataclasses import fields
from types import SimpleNamespace

import numpy as np
import pytest

from vlm.description.loading import load_biplane
from vlm.errors import ComputationFailed
from vlm.loads.coefficients import Coefficients
from vlm.loads.parts import FinLoad, HingeLoad, StripLoad, WingLoad
from vlm.loads.state import FlightState
from vlm.sides import Side
from vlm.study.convergence import wake_variants
from vlm.study.convergence.wake_variants import STANDARD, VARIANTS
from vlm.study.motion import shape as motion_shape
from vlm.study.point import blown as blown_point
from vlm.study.point.point import PointReport
from vlm.study.report import parts as report_parts
from vlm.study.report.data import ReportPlan
from vlm.study.report.parts import spaced_folds

PLAIN = {f.name: 0.5 for f in fields(Coefficients)}
BODY = {"CL_alpha": 4.0, "Cm_alpha": -0.8, "Cl_beta": -0.1}
STABILITY = {"CL_alpha": 5.0, "Cl_beta": -0.2}
REFERENCE = SimpleNamespace(chord=0.5, moment_point=np.array([0.3, 0.0, 0.0]), area=2.0)


def report(**more):
    return PointReport(**{
        "folds": None, "state": FlightState(airspeed=10.0, density=1.2),
        "loads": SimpleNamespace(reference=REFERENCE, lattice=None),
        "coefficients": Coefficients(**PLAIN),
        "derivatives": {"body": dict(BODY), "stability": dict(STABILITY)},
        "neutral_point": 0.0, "static_margin": 0.0,
        "wings": {"upper": WingLoad(0.4, 0.6, 1.5)}, "fins": {"keel": FinLoad(0.1, 0.2, 0.3, 0.4)},
        "hinges": {"upper_left": HingeLoad(1.0, 0.02)}, "strips": [], "error_estimate": None,
        "model_spread": None, "findings": [], **more,
    })  # fmt: skip


CHANGES = {
    **dict.fromkeys(PLAIN, 0.0), "CL": 0.05, "CL_alpha": 1.0, "Cm_alpha": -0.2, "Cl_beta": 0.01,
    "Cl_beta_stability": 0.03, "CL_upper": 0.06, "CDi_share_upper": -0.1, "CL_fin_keel": 0.01,
    "CY_fin_keel": 0.02, "CDi_share_fin_keel": 0.04, "hinge_moment_upper_left_N_m": 0.5,
    "hinge_moment_coefficient_upper_left": 0.01,
}  # fmt: skip


def test_the_slipstream_s_change_is_added_to_every_number():
    """Margin -Cm_alpha/CL_alpha = 1.0/5.0; the neutral point that many chords behind 0.3 m."""
    found = blown_point._with_values(report(), CHANGES)
    assert pytest.approx(0.55) == found.coefficients.CL
    assert found.coefficients.Cm == pytest.approx(0.5)
    assert found.derivatives["body"] == pytest.approx(
        {"CL_alpha": 5.0, "Cm_alpha": -1.0, "Cl_beta": -0.09}
    )
    # In stability axes a change of its own where there is one, else that of the body's.
    assert found.derivatives["stability"] == pytest.approx({"CL_alpha": 6.0, "Cl_beta": -0.17})
    assert found.static_margin == pytest.approx(0.2)
    assert found.neutral_point == pytest.approx(0.4)
    upper, keel, hinge = found.wings["upper"], found.fins["keel"], found.hinges["upper_left"]
    assert (upper.CL, upper.drag_share, upper.area) == pytest.approx((0.46, 0.5, 1.5))
    assert (keel.CL, keel.CY, keel.drag_share, keel.area) == pytest.approx((0.11, 0.22, 0.34, 0.4))
    assert (hinge.moment, hinge.coefficient) == pytest.approx((1.5, 0.03))


def test_half_widths_grow_by_the_error_of_the_slipstream_s_part(monkeypatch):
    """Of the margin by what Cm_alpha may be off, over the lift slope."""
    monkeypatch.setattr(
        blown_point, "half_width",
        lambda fine, rough, size, grid: abs(fine - rough) + 0.1 * size,
    )  # fmt: skip
    rough = {**CHANGES, "CL": 0.03, "Cm_alpha": -0.15}
    widths = {"CL": 0.01, "Cl_beta": 0.002, "static_margin": 0.004, "neutral_point_m": 0.002}
    found = blown_point._widened(widths, CHANGES, rough, None, -5.0, 0.5)
    assert found == pytest.approx({
        "CL": 0.01 + 0.02 + 0.005, "Cl_beta": 0.002 + 0.001,
        "static_margin": 0.004 + 0.07 / 5.0, "neutral_point_m": 0.002 + 0.5 * 0.07 / 5.0,
    })  # fmt: skip
    assert widths["CL"] == 0.01
    assert blown_point._widened(None, CHANGES, rough, None, 5.0, 0.5) is None
    assert blown_point._widened({"CL": 0.0}, CHANGES, rough, None, 5.0, 0.5).keys() == {"CL"}


def patch(wing, side, chords, widths, stations, share=1.0, on_plane=False):
    return SimpleNamespace(
        wing=wing, side=side, chord=np.array(chords), width=np.array(widths), share=share,
        strips=len(chords), on_plane=on_plane, trailing_stations=lambda: np.array(stations),
    )  # fmt: skip


def test_strips_take_the_slipstream_s_lift_and_circulation():
    """Dynamic pressure 60 Pa, no angle: lift acts along z. A strip of 0.5 m by 0.2 m with 3 N more
    has 0.5 more, one of 0.25 m by 0.2 m with 3 N across the stream at 45 degrees 0.7071. A fin in
    the plane of symmetry stands there with half of its strips on either side and is listed once."""
    half = 0.5**0.5
    lattice = SimpleNamespace(patches=[
        patch("upper", Side.PORT, [0.5, 0.25], [0.2, 0.2], [[9, -1, 2], [9, -2, 2]]),
        patch("keel", Side.PORT, [0.5], [0.2], [[9, 0, 1]], 0.5, True),
        patch("keel", Side.STARBOARD, [0.5], [0.2], [[9, 0, 1]], 0.5, True),
    ])  # fmt: skip
    places = SimpleNamespace(
        normal=np.array([[0, 0, 1.0], [0.3, -half, half], [0, 1.0, 0], [0, 1.0, 0]])
    )
    force = np.array([[[7, 0, 3.0], [7, -3.0, 0], [0, 99.0, 0], [7, 3.0, 9.0]]])
    blown = SimpleNamespace(force=force, circulation=np.array([[0.4, 0.6, 99.0, 0.1]]))
    setting = SimpleNamespace(
        strips=lambda: SimpleNamespace(model=SimpleNamespace(strips=places)),
        blown=lambda strips, flat: blown,
    )

    def strip(wing, y, z):
        return StripLoad(wing, Side.PORT, "main", y, z, 0.5, 0.2, 1.0, 2.0)

    listed = [strip("upper", -1.0, 2.0), strip("upper", -2.0, 2.0), strip("keel", 0.0, 1.0)]
    loads = SimpleNamespace(reference=REFERENCE, lattice=lattice)
    one = report(strips=listed, loads=loads)
    found = blown_point._blown_strips(one, setting, one.state)
    assert [s.cl for s in found] == pytest.approx([1.5, 1.0 + half, 1.0 + 3.0 / (60.0 * 0.05)])
    assert [s.circulation_m2_s for s in found] == pytest.approx([2.4, 2.6, 2.2])


@pytest.mark.parametrize(
    ("lift", "change", "share"),
    [(0.5, 0.2, 0.4), (-0.5, -0.2, 0.4), (0.0, 0.05, 0.05 / (4.0 * np.pi / 180.0)), (0.5, 0.0, 0)],
)
def test_a_slipstream_left_out_is_warned_of_by_its_share_in_the_lift(
    monkeypatch, lift, change, share
):
    """Lift counts at least as a degree of attack gives."""
    seen = []
    monkeypatch.setattr(blown_point, "has_trim", lambda craft: craft.trims)
    monkeypatch.setattr(blown_point, "_setting", lambda *words: (seen.append(words[2]), None))
    monkeypatch.setattr(blown_point, "_changes", lambda *_: {"CL": change})
    one = report(
        coefficients=Coefficients(**{**PLAIN, "CL": lift}),
        loads=SimpleNamespace(reference=REFERENCE, lattice=SimpleNamespace(grid=None)),
    )
    craft = SimpleNamespace(trims=True, propulsion=SimpleNamespace(slipstream=True))
    found = blown_point.slipstream_left_out(craft, one)
    assert [f.value for f in found] == ([pytest.approx(share)] if share else [])
    assert seen == ["trim"]
    for lacking in (
        SimpleNamespace(trims=False, propulsion=craft.propulsion),
        SimpleNamespace(trims=True, propulsion=None),
        SimpleNamespace(trims=True, propulsion=SimpleNamespace(slipstream=False)),
    ):
        assert blown_point.slipstream_left_out(lacking, one) == []

    def refuse(*_):
        raise ComputationFailed("no trim")

    monkeypatch.setattr(blown_point, "_changes", refuse)
    assert blown_point.slipstream_left_out(craft, one) == []


# --- shapes, wakes, folds of a report -----------------------------------------------------------


def test_outlines_of_a_strip_run_around_it():
    nodes = np.arange(27.0).reshape(3, 3, 3)
    found = motion_shape._outlines(SimpleNamespace(nodes=nodes, strips=2))
    assert len(found) == 2
    for i, outline in enumerate(found):
        np.testing.assert_array_equal(
            outline, [nodes[0, i], nodes[0, i + 1], nodes[2, i + 1], nodes[2, i]]
        )


def test_bodies_of_a_craft_about_its_moment_point():
    found = motion_shape.craft_shape(load_biplane("tideline"))
    lattice = motion_shape.build_lattice(
        load_biplane("tideline"), motion_shape.FoldAngles(0.0, 0.0), motion_shape.OUTLINE
    )
    point = lattice.reference.moment_point
    assert [one.name for one in found] == ["fixed", *lattice.bodies]
    assert sum(len(one.panels) for one in found) == sum(p.strips for p in lattice.patches)
    for one in found:
        own = [p for p in lattice.patches if p.body == one.name]
        np.testing.assert_allclose(one.panels[0][0], own[0].nodes[0, 0] - point)
        line = lattice.hinges.get(one.name)
        assert (one.side is None) == (line is None)
        if line is None:
            assert (one.linkage, *one.point, *one.axis) == (1.0, *[0.0] * 6)
        else:
            assert one.side == (Side.PORT if one.name.endswith("left") else Side.STARBOARD)
            assert one.linkage == lattice.fold_rates[one.name]
            np.testing.assert_allclose(one.point, line.point - point)
            np.testing.assert_allclose(one.axis, line.axis)


@pytest.mark.parametrize(
    ("way", "name", "factor"),
    [
        ("half the core", "core", 0.5),
        ("twice the core", "core", 2.0),
        ("twice the nodes", "nodes", 2),
        ("twice the nodes", "first_step", 0.5),
        ("twice the length", "length", 2.0),
        ("converged ten times closer", "tolerance", 0.1),
    ],
)
def test_ways_of_making_a_relaxed_wake(way, name, factor):
    assert getattr(VARIANTS[way], name) == pytest.approx(factor * getattr(STANDARD, name))


def test_every_way_is_solved_and_a_longer_wake_has_four_nodes_more(monkeypatch):
    assert VARIANTS["twice the length"].nodes == STANDARD.nodes + 4
    assert VARIANTS["as it is"] == STANDARD
    monkeypatch.setattr(wake_variants, "relaxed_loads", lambda lattice, state, sizes: sizes)
    monkeypatch.setattr(wake_variants, "key_numbers", lambda sizes, state: {"CL": sizes.core})
    found = wake_variants.wake_variants(None, None)
    assert found == {way: {"CL": sizes.core} for way, sizes in VARIANTS.items()}


@pytest.mark.parametrize(
    ("low", "high", "step", "folds"),
    [
        (-10.0, 20.0, 10.0, [-10, 0, 10, 20]),
        (-12.0, 17.0, 5.0, [-12, -10, -5, 0, 5, 10, 15, 17]),
        (0.1, 0.3, 0.1, [0.1, 0.2, 0.3]),
        (1.0, 2.0, 5.0, [1, 2]),
        (-5.0, -5.0, 5.0, [-5]),
    ],
)
def test_folds_of_a_report_are_multiples_of_a_step_and_the_limits(low, high, step, folds):
    found = spaced_folds(low, high, step)
    assert found == tuple(folds)
    assert not any(np.signbit(fold) for fold in found if fold == 0.0)


@pytest.mark.parametrize("processes", [1, 2])
def test_parts_of_a_report_come_with_what_is_done(monkeypatch, processes):
    """The dearest first; one that cannot be made gives its reason."""

    def refuse(craft, plan):
        raise ComputationFailed("no trim")

    def study(name, weight, made):
        return report_parts.Study(name, f"title of {name}", weight, lambda *_: "", made)

    monkeypatch.setattr(report_parts, "SWEEP", study("sweep", 20, lambda *_: "s"))
    monkeypatch.setattr(report_parts, "MAP", study("map", 60, lambda *_: "m"))
    monkeypatch.setattr(report_parts, "STUDIES", (
        study("roll", 30, refuse), study("hinge", 5, lambda *_: "h"),
        report_parts.Study("log", "", 9, lambda *_: "the file has no log", lambda *_: None),
    ))  # fmt: skip
    told = []
    plan = ReportPlan("x.toml", without=("hinge",))
    # One process: pieces are worked off in this one; the number only says how many are reported.
    local = report_parts.local_work
    monkeypatch.setattr(report_parts, "local_work", lambda task, work, count: local(task, work, 1))
    found = list(report_parts.made_parts(None, plan, lambda *words: told.append(words), processes))
    assert found == [("map", "m", ""), ("roll", None, "no trim"), ("sweep", "s", "")]
    first = {1: "title of map", 2: "title of map and title of roll"}[processes]
    assert told[0] == (first, 0, 110)
    assert [(done, total) for _, done, total in told[1:]] == [(60, 110), (90, 110), (110, 110)]
    assert told[-1][0] == "page"
