"""What a saving comes from: the parts add up, and pitch trim is what a balanced craft is spared.

Source: conservation of energy; the balanced craft is trimmed with its centre of gravity moved.
"""

import numpy as np
import pytest

from vlm.description.loading import load_biplane
from vlm.flight.plan.fold_search import FoldTable
from vlm.flight.plan.schedule import SchedulePoint
from vlm.flight.trim.balance import balance, pitching_moment
from vlm.flight.trim.power_book import power_book
from vlm.lattice.cellule import Grid
from vlm.study.schedule.saving import Saving, with_causes
from vlm.study.schedule.saving_causes import Causes, causes_of, causes_words

GRID = Grid(2, 8)


def table_of(name: str, folds: list[float], speed: float) -> FoldTable:
    craft = load_biplane(name)
    assert craft.schedule is not None
    return FoldTable.of(power_book(craft, folds, np.array([speed]), grid=GRID), craft.schedule)


@pytest.mark.parametrize(
    ("name", "speed"), [("thistle", 12.0), ("tideline", 20.0), ("winnow", 24.0), ("teasel", 20.0)]
)
def test_pitch_trim_is_what_a_balanced_craft_is_spared(name: str, speed: float) -> None:
    table = table_of(name, [-20.0, 0.0], speed)
    for fold in (-20.0, 0.0):
        setting, made = table.setting(fold, speed), table.craft_at(fold)
        assert made is not None
        found = causes_of(table, setting)
        assert sum(found.values.values()) == pytest.approx(setting.power, rel=1e-9)
        even = balance(made, setting.point)
        assert even is not None
        # The balanced craft needs about the same thrust, shared alike: it is spared that part.
        spared = setting.power - even.point.value("electrical_power_W")
        assert spared == pytest.approx(found.pitch_trim_W, rel=0.2)
        assert found.pitch_trim_W > 0.0
        trim = setting.point.trim
        assert trim is not None
        # Power along the path is all drag: thrust times its own speed through the air.
        useful = sum(float((s.flow.thrust * s.flow.axial)[0]) for s in trim.loads.rotors)
        drag = found.induced_drag_W + found.profile_drag_W + found.bodies_and_slipstream_W
        assert drag == pytest.approx(useful, rel=1e-3)
        assert abs(pitching_moment(made, trim)) > 0.0


def test_a_saving_is_taken_apart() -> None:
    """Thistle, nose-heavy, folds its tips down at speed and so pitches itself up."""
    table = table_of("thistle", [-80.0, 0.0], 13.0)
    best, flat = table.setting(-80.0, 13.0), table.setting(0.0, 13.0)
    saving = with_causes(Saving(SchedulePoint(13.0, best), flat), table)
    assert saving.causes is not None
    saved = saving.causes.values
    assert sum(saved.values()) == pytest.approx(flat.power - best.power, rel=1e-9)
    made = [table.craft_at(fold) for fold in (0.0, -80.0)]
    assert made[0] is not None
    assert made[1] is not None
    moments = [
        abs(pitching_moment(one, setting.point.trim))
        for one, setting in zip(made, (flat, best), strict=True)
        if setting.point.trim is not None
    ]
    # It is pitch trim that is saved: the rotors have less to hold.
    assert moments[1] < moments[0]
    assert max(saved, key=lambda name: saved[name]) == "pitch_trim_W"
    said = causes_words(saving.causes)
    assert said.startswith(f"By cause folding saves there: {saved['pitch_trim_W']:.1f} W pitch tri")
    assert said.endswith(f"{flat.power - best.power:.1f} W in all.")


def test_small_parts_are_left_out_of_the_words() -> None:
    said = causes_words(Causes(0.004, 1.2, -0.31, 0.0, 0.1))
    assert said == (
        "By cause folding saves there: 1.20 W induced drag, -0.31 W profile drag, 0.10 W rotors"
        " and motors; 0.99 W in all."
    )


def test_no_saving_has_no_causes() -> None:
    table = table_of("tideline", [0.0], 12.0)
    flat = table.setting(0.0, 12.0)
    assert with_causes(Saving(SchedulePoint(12.0, flat), flat), table).causes is None
