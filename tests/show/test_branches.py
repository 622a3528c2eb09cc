"""No line joins two branches: contact of a tip, or a trim that leaps past stall.

No source but the rule (docs/guide.md): between a closed box and an open tip there is no smooth
curve (docs/theory.md, contact).
"""

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from vlm.flight.motion.roll_command import RollCommand
from vlm.show.branches import changes, gapped, lone
from vlm.show.plots import compare as compare_plots
from vlm.show.plots import hinge as hinge_plots
from vlm.show.plots import lateral as lateral_plots
from vlm.show.plots import power as power_plots
from vlm.show.plots import roll as roll_plots
from vlm.show.style import plot_style
from vlm.study.compare.results import PowerLine
from vlm.study.hinge.results import HingeParts, MomentRow, WingRow
from vlm.study.lateral.results import FoldRow


def test_gaps_stand_half_way_before_each_change() -> None:
    after = changes([True, False, False, True])
    assert after == [1, 3]
    places, values = gapped([0.0, 2.0, 4.0, 8.0], after, [1.0, 2.0, 3.0, 4.0])
    assert places.tolist() == [0.0, 1.0, 2.0, 4.0, 6.0, 8.0]
    assert np.isnan(values[[1, 4]]).all()
    assert values[[0, 2, 3, 5]].tolist() == [1.0, 2.0, 3.0, 4.0]
    assert lone(4, after) == [0, 3]


def test_without_a_change_there_is_no_gap() -> None:
    places, values = gapped([0.0, 1.0], changes([False, False]), [5.0, 6.0])
    assert (places.tolist(), values.tolist(), lone(2, [])) == ([0.0, 1.0], [5.0, 6.0], [])


def joins(axes: Any, low: float, high: float) -> bool:
    """Whether a line goes without a gap from one place to another."""
    for line in axes.lines:
        x, y = (np.asarray(one, dtype=float) for one in line.get_data())
        inside = (x >= low) & (x <= high)
        ends = inside.sum() > 1 and x[inside].min() == low and x[inside].max() == high
        if ends and np.isfinite(y[inside]).all() and np.ptp(y[inside]) > 0.0:
            return True
    return False


def moments(fold: float) -> MomentRow:
    hinge = HingeParts(1.0, *[0.1 * fold] * 9, half_width_N_m=0.1)
    return MomentRow(fold, 12.0, 1.0, hinges={"upper_right": hinge},
                     most_loaded_hinge="upper_right")  # fmt: skip


@pytest.mark.parametrize("closed", [True, False])
def test_hinge_moments_are_not_joined_across_contact(closed: bool) -> None:
    folds = (-90.0, -60.0, 0.0)
    rows = [moments(fold) for fold in folds]
    wings = [WingRow(fold, 1.0, touching=closed and fold == -90.0) for fold in folds]
    with plot_style() as plt:
        _, axes = plt.subplots()
        study = SimpleNamespace(moments=rows, known_moments=rows, wings=wings)
        hinge_plots.moment_parts(axes, study, 1.0, 12.0)
        assert joins(axes, -90.0, -60.0) is not closed
        assert joins(axes, -60.0, 0.0)


def test_the_dihedral_effect_is_not_joined_across_contact() -> None:
    rows = [FoldRow(fold, fold < -80.0) for fold in (-90.0, -60.0, 0.0)]
    folds, values = lateral_plots._broken(rows, [1.0, 2.0, 3.0])
    assert folds.tolist() == [-90.0, -75.0, -60.0, 0.0]
    assert np.isnan(values[1])


def test_commands_are_not_joined_across_contact() -> None:
    command = RollCommand(
        "port tip alone", np.array([-90.0, -85.0, 0.0]), np.array([1.0, 2.0, 0.0]),
        float("nan"), (0.0, 0.0), (), (), (True, False, False),
    )  # fmt: skip
    with plot_style() as plt:
        _, axes = plt.subplots()
        roll_plots.command_curves(axes, SimpleNamespace(commands=[command]))
        assert not joins(axes, -90.0, -85.0)
        assert joins(axes, -85.0, 0.0)
        assert any(line.get_xdata()[0] == -90.0 and len(line.get_xdata()) == 1
                   for line in axes.lines)  # fmt: skip


def test_power_by_part_is_not_joined_across_stall() -> None:
    speeds, power = [0.0, 8.0, 10.0, 20.0], [300.0, 200.0, 50.0, 200.0]
    one = {
        "electrical_power_W": power, "body_angle_deg": [90.0, 40.0, 12.0, 0.0],
        "branches": {"from_cruise_down_to_m_s": 8.5, "from_hover_up_to_m_s": 9.5},
        **dict.fromkeys(power_plots.PARTS, power),
    }  # fmt: skip
    document = {"airspeed_m_s": speeds, "configurations": {"open": one}}
    with plot_style() as plt:
        _, axes = plt.subplots()
        power_plots.parts_axes(axes, document, "open")
        assert not joins(axes, 8.0, 10.0)
        assert joins(axes, 0.0, 8.0)


def test_compared_powers_are_not_joined_across_stall() -> None:
    class Known:
        entries = (type("Entry", (), {"name": "open"}),)
        power = (PowerLine("open", (0.0, 8.0, 10.0, 20.0), (300.0, 200.0, 50.0, 200.0), (2,)),)

    with plot_style() as plt:
        _, axes = plt.subplots()
        compare_plots.power_axes(axes, Known())
        assert not joins(axes, 8.0, 10.0)
        assert not axes.collections


def test_compared_powers_have_bands_where_intervals_are_known() -> None:
    """Made-up numbers; the band passes through its ends, a polygon on each side of the gap."""

    class Known:
        entries = (type("Entry", (), {"name": "open"}),)
        power = (
            PowerLine(
                "open", (0.0, 8.0, 10.0, 20.0), (300.0, 200.0, 50.0, 200.0), (2,),
                (280.0, 190.0, 45.0, 170.0), (330.0, 215.0, 57.0, 240.0),
            ),
        )  # fmt: skip

    with plot_style() as plt:
        _, axes = plt.subplots()
        compare_plots.power_axes(axes, Known())
        (band,) = axes.collections
        corners = np.concatenate([path.vertices for path in band.get_paths()])
        for corner in [(0.0, 280.0), (8.0, 215.0), (10.0, 45.0), (20.0, 240.0)]:
            assert np.abs(corners - corner).sum(axis=1).min() < 1e-9
        assert len(band.get_paths()) == 2
