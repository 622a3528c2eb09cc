"""What a schedule asks for, as margins of quantities, by hand.

No source but the rules stated in the module; all numbers are invented.
"""

from types import SimpleNamespace

import numpy as np
import pytest

from vlm.constants import GRAVITY
from vlm.description.folds import FoldAngles
from vlm.description.loading import load_biplane
from vlm.description.models import Biplane
from vlm.errors import InputRefused
from vlm.flight.plan import constraints, tip_drive
from vlm.flight.plan.constraints import Constraints
from vlm.flight.plan.lifted import without
from vlm.flight.trim.powered import powered_craft
from vlm.lattice.cellule import Grid


def made(actuator=None, rotors=(), limit_names=(), **schedule):
    plain = {
        "roll_reserve_deg": None, "forbidden_deg": (), "thrust_borne_below_m_s": 0.0,
        "rotor_margin_min": None, "stall_margin_min_deg": None, "dihedral_effect": "any",
        "dihedral_effect_min_per_rad": 0.0, "roll_moment_min_N_m": None,
        "folding_rate_min_deg_s": None, "hinge_moment_max_N_m": None,
    }  # fmt: skip
    craft = SimpleNamespace(
        fold_range_deg=(-90.0, 20.0), rotors=rotors, actuator=actuator,
        named_sections={"upper": "a", "lower": "", "upper_tip": "b"},
        tips={"upper": SimpleNamespace(linkage=0.5)},
    )  # fmt: skip
    loads = SimpleNamespace(
        dihedral_miss=lambda fold: 0.1 + fold,
        roll_miss=lambda fold, reserve, speed: (fold, reserve, speed),
        hinge_misses=lambda fold, speed: {"upper_left": 0.2, "upper_right": 0.3},
    )
    return Constraints(craft, SimpleNamespace(**{**plain, **schedule}), loads, limit_names, 0.0)


@pytest.mark.parametrize(
    ("schedule", "name", "values", "margin"),
    [
        ({"stall_margin_min_deg": 3.0}, "stall margin", [5.0, 4.0], 1.0),
        ({"dihedral_effect": "stable"}, "dihedral effect", [-0.1], 0.1),
        (
            {"dihedral_effect": "stable", "dihedral_effect_min_per_rad": 0.03},
            "dihedral effect",
            [-0.1],
            0.07,
        ),
        ({"dihedral_effect": "unstable"}, "dihedral effect", [-0.1], -0.1),
        ({"roll_moment_min_N_m": 2.0, "roll_reserve_deg": 5.0}, constraints.ROLL_MOMENT, [-3], 1.0),
        ({"hinge_moment_max_N_m": 2.0}, "hinge moment", [0.5, -1.6], 0.4),
    ],
)
def test_margins_of_what_a_schedule_asks_for(schedule, name, values, margin):
    listed = {one.name: one for one in made(**schedule).listed}
    found = listed[name].margin(np.array([values, values], dtype=float))
    np.testing.assert_allclose(found, margin)
    assert len(listed[name].reads) == len(values)


def test_a_stall_margin_is_refused_where_a_wing_has_no_section(monkeypatch):
    """A fin's is not asked for; without the margin nothing is."""
    craft = SimpleNamespace(
        source_name="x.toml", actuator=None,
        named_sections={"upper": "a", "lower": None, "lower.tips": None, "fins.keel": None},
    )  # fmt: skip
    schedule = SimpleNamespace(
        stall_margin_min_deg=1.0, folding_rate_min_deg_s=None, roll_reserve_deg=None
    )
    book = SimpleNamespace(craft=craft, curves=[], folds_deg=[0.0], kept={"loads, 0 deg": "loads"})
    with pytest.raises(InputRefused, match=r"lower, lower.tips without a section; schedule.stall"):
        Constraints.of(book, schedule)
    craft.named_sections = {"upper": "a", "fins.keel": None}
    assert Constraints.of(book, schedule).loads == "loads"
    craft.named_sections, schedule.stall_margin_min_deg = {"upper": None}, None
    assert Constraints.of(book, schedule).loads == "loads"


def test_what_a_schedule_does_not_ask_for_is_no_constraint():
    assert made().listed == ()
    assert made(roll_moment_min_N_m=2.0).listed == ()
    assert made(folding_rate_min_deg_s=9.0).listed == ()
    assert made(roll_reserve_deg=5.0).quantities == (constraints.ROLL_MOMENT,)


def test_the_folding_rate_is_that_of_the_slowest_side_by_its_linkage(monkeypatch):
    """A tip that turns by half its side's fold loads the drive with half of its moment."""
    monkeypatch.setattr(
        tip_drive, "slowest_fold_speed",
        lambda actuator, own: np.radians(60.0 - np.max(np.abs(list(own.values())), axis=0)),
    )  # fmt: skip
    (one,) = made("drive", folding_rate_min_deg_s=10.0).listed
    found = one.margin(np.array([[20.0, -60.0], [0.0, 0.0]]))
    np.testing.assert_allclose(found, [60.0 - 30.0 - 10.0, 50.0])
    # The tips' weight is on the drive as well: the limit of the hinges is of the air alone.
    assert one.reads == tuple(f"{constraints.DRIVE}upper_{side}" for side in ("left", "right"))


@pytest.mark.parametrize(("fold", "pitch"), [(0.0, 0.0), (60.0, 0.0), (-90.0, 0.0), (0.0, 90.0)])
def test_a_heavy_tip_s_weight_is_on_its_drive(fold, pitch):
    """0.4 kg, 0.12 m out of a hinge along x: m g r cos fold lowers it; nose up, nothing does."""
    craft = load_biplane("tideline")
    tip = {"mass_kg": 0.4, "centre_m": (0.07, 0.12, 0.0)}
    tables = craft.model_dump(exclude_none=True)
    tables["mass"]["upper_tip"] |= tip
    heavy = Biplane.model_validate(tables).from_source(craft.source)
    made_ = powered_craft(heavy, FoldAngles.symmetric(fold), grid=Grid(1, 4))
    wanted = -0.4 * GRAVITY * 0.12 * np.cos(np.radians(fold)) * np.cos(np.radians(pitch))
    for moment in tip_drive.tip_weights(made_, np.radians(pitch)).values():
        assert moment == pytest.approx(wanted, abs=1e-9)


def test_limits_of_one_kind_count_together():
    """The reserve asked for reads the highest thrusts alone."""
    of = constraints.OF_ROTOR
    names = (f"{constraints.HIGHEST_THRUST}{of}a", f"{constraints.HIGHEST_THRUST}{of}b", "battery")
    listed = {one.name: one for one in made(limit_names=names, rotor_margin_min=0.1).listed}
    assert listed[constraints.HIGHEST_THRUST].reads == names[:2]
    assert listed["battery"].reads == names[2:]
    left = listed["thrust left on the rotors"]
    assert left.reads == names[:2]
    np.testing.assert_allclose(left.margin(np.array([[0.3, 0.25]])), [0.15])
    assert "thrust left on the rotors" not in {
        one.name for one in made(limit_names=names[2:], rotor_margin_min=0.1).listed
    }


def test_how_far_each_quantity_may_be_off():
    one = made(roll_reserve_deg=5.0)
    assert one._miss("Cl_beta", 2.0, 9.0) == 2.1
    assert one._miss(constraints.ROLL_MOMENT, 2.0, 9.0) == (2.0, 5.0, 9.0)
    assert one._miss(f"{constraints.HINGE}upper_right", 2.0, 9.0) == 0.3
    assert one._miss(f"{constraints.DRIVE}upper_left", 2.0, 9.0) == 0.2
    assert one._miss("battery", 2.0, 9.0) == 0.0
    assert made()._miss(constraints.ROLL_MOMENT, 2.0, 9.0) == (2.0, 0.0, 9.0)


@pytest.mark.parametrize(
    ("margin", "miss", "is_open"),
    [
        (1.0, 0.49, False),
        (1.0, 0.51, True),
        (-1.0, 0.49, False),
        (-1.0, 0.51, True),
        (0.0, 0.0, False),
    ],
)
def test_a_constraint_is_open_within_twice_what_is_missed(margin, miss, is_open):
    one = made(hinge_moment_max_N_m=2.0)
    values = np.array([9.0, 2.0 - margin, 0.0])
    misses = np.array([0.0, miss, 0.0])
    assert bool(one._is_open(0.0, values, misses, 9.0)) is is_open


def test_a_folding_rate_needs_a_drive():
    craft = SimpleNamespace(source_name="x.toml", actuator=None)
    book = SimpleNamespace(craft=craft)
    with pytest.raises(InputRefused, match=r"\[actuator\] is missing"):
        Constraints.of(book, SimpleNamespace(folding_rate_min_deg_s=9.0))


def test_stall_margins_of_parts_leave_out_strips_without_wind():
    patches = [SimpleNamespace(place=place) for place in ("upper", "upper_tip", "lower")]
    craft = SimpleNamespace(named_sections={"upper": "a", "upper_tip": "b", "lower": ""})
    model = SimpleNamespace(
        lattice=SimpleNamespace(patches=patches),
        strips=SimpleNamespace(patch=np.array([0, 0, 1, 2])),
    )
    state = SimpleNamespace(
        speed=np.array([[9.0, 9.0, 0.0, 9.0]]), margin=np.radians([[5.0, 3.0, 1.0, -9.0]])
    )
    coupled = SimpleNamespace(state=state, onset=SimpleNamespace(scale=np.array([9.0])))
    point = SimpleNamespace(trim=SimpleNamespace(loads=SimpleNamespace(coupled=coupled)))
    found = constraints.stall_margins_by_part(SimpleNamespace(model=model, craft=craft), point)
    assert found[f"{constraints.STALL}upper"] == pytest.approx(3.0)
    assert np.isnan(found[f"{constraints.STALL}upper_tip"])
    assert len(found) == 2


def test_a_schedule_without_all_it_asks_for_asks_for_nothing():
    """Every constraint has its key; what remains is the range of the hinges."""
    asked = [
        "rotor_margin_min=0.1", "stall_margin_min_deg=1", "dihedral_effect='stable'",
        "roll_moment_min_N_m=0.1", "roll_reserve_deg=10", "folding_rate_min_deg_s=5",
        "hinge_moment_max_N_m=1", "forbidden_deg=[[5.0, 9.0]]",
    ]  # fmt: skip
    craft = load_biplane("tideline", [f"schedule.{one}" for one in asked])

    def named(schedule):
        found = Constraints(craft, schedule, None, (constraints.HIGHEST_THRUST,), 0.0)
        names = [one.name for one in found.listed if one.name != constraints.HIGHEST_THRUST]
        return [*names, *found.of_fold(np.zeros(1))]

    names = named(craft.schedule)
    assert len(names) == len(asked)
    assert named(without(craft.schedule, names)) == ["fold limits"]
    for name in names:
        assert name not in named(without(craft.schedule, [name]))
