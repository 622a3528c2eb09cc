"""What a mission's saving consists of, each part found by another way.

Source: conservation of energy (the parts add up); the servos' current, voltage and time of the
file; the craft whose mechanism weighs nothing, studied by itself; draws trimmed directly, one by
one.
"""

import re
from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import pytest

from vlm.description.folds import FoldAngles
from vlm.description.loading import load_biplane
from vlm.description.mission import Leg
from vlm.description.models import Biplane
from vlm.flight.plan.mission_samples import drawn_energy
from vlm.flight.trim.power_book import direct_trim
from vlm.flight.trim.powered import powered_craft
from vlm.lattice.cellule import Grid
from vlm.show.tables.mission import mission_answers, mission_table
from vlm.study.fixed_craft import with_mechanism_mass
from vlm.study.mission import study as study_module
from vlm.study.mission.answer import MissionDocument, mission_document
from vlm.study.mission.saving_parts import SavingPart
from vlm.study.mission.study import JOULES, MissionStudy, mission_study
from vlm.study.sensitivity import draws_of

FAST = 12.0
LEGS = [
    Leg(kind="hover", time_s=20.0),
    Leg(kind="transition", time_s=8.0, airspeed_m_s=FAST),
    Leg(kind="loiter", time_s=900.0, airspeed_m_s=FAST),
    Leg(kind="dash", distance_m=4000.0, airspeed_m_s=18.0),
    Leg(kind="loiter", time_s=300.0, airspeed_m_s=FAST),
]
DIRECT = 12


def tideline() -> Biplane:
    return load_biplane("tideline").overridden({"schedule.speeds": 3})


@pytest.fixture(scope="module")
def study() -> Iterator[MissionStudy]:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(study_module, "TIP_SPANS", (0.5, 1.5))
        yield mission_study(tideline(), LEGS, folds=3, grid=Grid(2, 8))


@pytest.fixture(scope="module")
def document(study: MissionStudy) -> MissionDocument:
    return mission_document(study)


def named(parts: list[SavingPart]) -> dict[str, SavingPart]:
    return {one["part"]: one for one in parts}


def test_the_parts_of_a_saving_add_up_to_it(study: MissionStudy, document: MissionDocument) -> None:
    ways = (*document["without_mechanism"], *document["other_tips"])
    pairs = (("same_tips", "best_fixed"), ("span_free", "best_purpose_built"))
    for key, best in pairs:
        parts = document["saving_parts"][key]  # type: ignore[literal-required]
        whole = next(w for w in ways if w["name"] == document[best])  # type: ignore[literal-required]
        assert [one["part"] for one in parts] == [
            "hover", "transition", "loiter", "dash", "servos", "mechanism's weight",
        ]  # fmt: skip
        saved = sum(one["saves_Wh"] for one in parts)
        assert saved == pytest.approx(whole["schedule_saves_Wh"], abs=1e-9)
    # Another span changes the legs, not servos and weight.
    same, free = (named(document["saving_parts"][key]) for key in ("same_tips", "span_free"))  # type: ignore[literal-required]
    for part in ("servos", "mechanism's weight"):
        assert same[part]["saves_Wh"] == free[part]["saves_Wh"]
    assert abs(same["hover"]["saves_Wh"] - free["hover"]["saves_Wh"]) > 0.01


def test_servos_draw_their_current_at_rest_and_what_moving_takes(
    study: MissionStudy, document: MissionDocument
) -> None:
    actuator, own = study.craft.actuator, document["schedule"]
    assert actuator is not None
    assert own["time_s"] is not None
    assert own["folding_Wh"] is not None
    servos = 2 if actuator.serves == "side" else 2 * len(study.craft.tips)
    power = servos * actuator.servo_voltage_V * actuator.servo_hold_current_A
    part = named(document["saving_parts"]["same_tips"])["servos"]
    assert part["saves_Wh"] == pytest.approx(
        -(power * own["time_s"] / JOULES + own["folding_Wh"]), rel=1e-9
    )
    assert part["interval_Wh"] is None


def test_the_weight_is_what_a_lighter_craft_draws_less_in_every_state(
    study: MissionStudy, document: MissionDocument
) -> None:
    """Trimmed directly at the very folds of the schedule: a craft without the mechanism's mass.

    The schedule of the light craft may choose other folds, which changes its energy to second
    order.
    """
    light = with_mechanism_mass(tideline(), 1e-6)
    assert light is not None
    spared, made = 0.0, {}
    for leg in study.schedule.flight.legs:
        for one in leg.pieces:
            fold = one.piece.fold_deg
            if fold not in made:
                made[fold] = powered_craft(light, FoldAngles(fold, fold), grid=Grid(2, 8))
            point = direct_trim(made[fold], one.piece.speed, near=one.point)
            spared += one.energy - one.piece.seconds * point.value("electrical_power_W")
    part = named(document["saving_parts"]["same_tips"])["mechanism's weight"]
    assert spared / JOULES > 0.3
    assert part["saves_Wh"] == pytest.approx(-spared / JOULES, rel=0.03)


def test_a_mechanism_that_drags_has_a_part_of_its_own() -> None:
    """Trimmed directly at the schedule's folds: a craft whose mechanism weighs nothing, with its
    drag and without. The parts add up to the saving of the file's craft."""
    craft = tideline().overridden({"mass.mechanism.drag_area_m2": 4e-4})
    craft = craft.model_copy(update={"uncertainty": None})
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(study_module, "TIP_SPANS", ())
        study = mission_study(craft, LEGS[2:4], folds=3, grid=Grid(2, 8))
    document = mission_document(study)
    parts = named(document["saving_parts"]["same_tips"])
    assert list(parts) == ["loiter", "dash", "servos", "mechanism's drag", "mechanism's weight"]
    best = next(w for w in document["without_mechanism"] if w["name"] == document["best_fixed"])
    saved = sum(one["saves_Wh"] for one in parts.values())
    assert saved == pytest.approx(best["schedule_saves_Wh"], abs=1e-9)
    pair = [with_mechanism_mass(each, 1e-6) for each in (craft, tideline())]
    added, made = 0.0, {}
    for leg in study.reweighed[0].flight.legs:
        for one in leg.pieces:
            folds = FoldAngles.symmetric(one.piece.fold_deg)
            if folds not in made:
                made[folds] = [powered_craft(each, folds, grid=Grid(2, 8)) for each in pair if each]
            dragging, clean = (
                direct_trim(each, one.piece.speed, near=one.point).value("electrical_power_W")
                for each in made[folds]
            )
            added += one.piece.seconds * (dragging - clean)
    assert added / JOULES > 0.05
    assert parts["mechanism's drag"]["saves_Wh"] == pytest.approx(-added / JOULES, rel=0.03)


def test_the_interval_of_a_part_is_that_of_draws_that_are_trimmed_directly(
    study: MissionStudy, document: MissionDocument
) -> None:
    """The weight's, over the same draws with and without it; far narrower than the energy's."""
    draws, own, light = draws_of(study.craft), study.schedule, study.reweighed[0]
    assert own.leg_samples is not None
    assert light.leg_samples is not None
    drawn = (light.leg_samples - own.leg_samples) / JOULES
    on_wings = slice(2, None)  # in hover and transition a draw need not have a trim
    direct = np.array([
        [drawn_energy(replace(one.flight, legs=one.flight.legs[on_wings]), draws.factors[i],
                      draws.keys, draws.shifts[i]) for one in (light, own)]
        for i in range(DIRECT)
    ]) / JOULES  # fmt: skip
    apart = direct[:, 0] - direct[:, 1]
    size = float(np.abs(apart).mean())
    np.testing.assert_allclose(drawn[on_wings].sum(axis=0)[:DIRECT], apart, atol=0.03 * size)
    assert float(np.ptp(apart)) > 0.05 * size
    ends = named(document["saving_parts"]["same_tips"])["mechanism's weight"]["interval_Wh"]
    whole, percent = document["schedule"]["energy_interval_Wh"], study.percent
    assert ends is not None
    assert whole is not None
    assert percent is not None
    tail = 0.5 * (100.0 - percent)
    np.testing.assert_allclose(
        ends, np.percentile(drawn.sum(axis=0), [tail, 100.0 - tail]), rtol=1e-3
    )
    assert ends[1] - ends[0] < 0.2 * (whole[1] - whole[0])


def test_the_parts_are_printed_with_their_interval(document: MissionDocument) -> None:
    text = mission_table(document)
    number = r"(-[\d.]+)"
    found = re.search(rf"\nmechanism's weight +{number}, {number} to {number} +-[\d.]+, ", text)
    assert found is not None, text
    part = named(document["saving_parts"]["same_tips"])["mechanism's weight"]
    ends = part["interval_Wh"]
    assert ends is not None
    printed = [float(one) for one in found.groups()]
    assert printed == pytest.approx([part["saves_Wh"], *ends], abs=0.006)
    assert re.search(r"\nservos +-0\.\d\d +-0\.\d\d\n", text)
    assert text.index("consists of") < text.index("Every way to fly it")


def test_a_transition_says_up_to_which_airspeed_it_runs(document: MissionDocument) -> None:
    rows = {row["kind"]: row for row in document["schedule"]["legs"]}
    assert rows["transition"]["fast_end_m_s"] == pytest.approx(FAST, rel=1e-12)
    assert rows["transition"]["airspeed_m_s"] is None
    assert rows["loiter"]["fast_end_m_s"] is None
    assert re.search(r"\ntransition +0 to 12\.0 ", mission_table(document))


def test_all_that_was_worked_out_fits_the_page(document: MissionDocument) -> None:
    assert max(map(len, mission_table(document, full=True).splitlines())) <= 80


@pytest.mark.parametrize(
    ("code", "said"),
    [("battery", "The battery does not hold this mission: "),
     ("battery_not_known", "It is not known whether the battery holds this mission: ")],
)  # fmt: skip
def test_a_battery_that_is_too_small_is_said_first(
    document: MissionDocument, code: str, said: str
) -> None:
    assert mission_answers(document)[0] == document["answer"]
    own = document["schedule"] | {"energy_Wh": 75.0, "energy_interval_Wh": [66.0, 86.0]}
    short = document | {"findings": [{"code": code}], "schedule": own, "battery_usable_Wh": 72.0}
    assert mission_answers(short)[0] == f"{said}75 ± 11 Wh against 72.0 Wh that may be used."  # type: ignore[arg-type]
