"""The ± of a mission's energy: against draws of the craft that are trimmed directly, one by one.

Source of the interval: quantiles of the draws (numpy); of the words: what the document holds.
"""

import re

import numpy as np
import pytest

from vlm.description.loading import load_biplane
from vlm.description.mission import Leg
from vlm.flight.plan.mission_samples import drawn_energy
from vlm.lattice.cellule import Grid
from vlm.show.tables.mission import mission_table
from vlm.study.mission.answer import mission_document, total
from vlm.study.mission.study import JOULES, MissionStudy, mission_study
from vlm.study.sensitivity import draws_of

DIRECT = 30
NUMBER = r"([\d.]+) ± ([\d.]+) Wh"


@pytest.fixture(scope="module")
def study() -> MissionStudy:
    craft = load_biplane("tideline").overridden({"schedule.speeds": 3})
    legs = [
        Leg(kind="loiter", time_s=900.0, airspeed_m_s=12.0),
        Leg(kind="dash", distance_m=4000.0, airspeed_m_s=18.0),
    ]
    return mission_study(craft, legs, folds=3, grid=Grid(2, 8))


def test_draws_trimmed_directly_give_the_same_total(study: MissionStudy) -> None:
    draws = draws_of(study.craft)
    samples = study.schedule.samples
    assert samples is not None
    direct = np.array([
        drawn_energy(study.schedule.flight, draws.factors[i], draws.keys, draws.shifts[i])
        for i in range(DIRECT)
    ])  # fmt: skip
    np.testing.assert_allclose(samples[:DIRECT], direct, rtol=0.01)
    assert float(np.ptp(direct)) > 0.05 * float(direct.mean())
    # The printed ± holds about as many of them as it says: of 30 draws, 90 % within.
    low, high = printed(total(study, study.schedule))
    inside = np.mean((low <= direct / JOULES) & (direct / JOULES <= high))
    assert 0.8 <= inside <= 1.0


def printed(text: str) -> tuple[float, float]:
    """Both ends of a printed total."""
    found = re.search(NUMBER, text)
    assert found is not None, text
    value, half = float(found[1]), float(found[2])
    return value - half, value + half


def test_the_total_is_printed_with_its_interval(study: MissionStudy) -> None:
    document = mission_document(study)
    samples = study.schedule.samples
    assert samples is not None
    percent = document["interval_percent"]
    assert percent is not None
    tail = 0.5 * (100.0 - percent)
    wanted = np.percentile(samples / JOULES, [tail, 100.0 - tail])
    ends = document["schedule"]["energy_interval_Wh"]
    np.testing.assert_allclose(ends, wanted, rtol=1e-9)
    energy = document["schedule"]["energy_Wh"]
    assert energy is not None
    half = max(wanted[1] - energy, energy - wanted[0])
    for said in (document["answer"], mission_table(document)):
        low, high = printed(said)
        assert 0.5 * (high - low) == pytest.approx(half, rel=0.06)
        assert 0.5 * (low + high) == pytest.approx(energy, abs=0.06 * half)
    table = mission_table(document)
    assert re.search(rf"In all [\d.]+ ± [\d.]+ Wh at {percent:g} %, of it", table)
    assert re.search(r"schedule +[\d.]+ +[\d.]+ ± [\d.]+\n", table)


def test_without_uncertain_inputs_there_is_no_interval() -> None:
    craft = load_biplane("tideline").overridden({"schedule.speeds": 3})
    bare = craft.model_copy(update={"uncertainty": None})
    found = mission_study(bare, [Leg(kind="loiter", time_s=60.0)], folds=3, grid=Grid(2, 8))
    document = mission_document(found)
    assert document["schedule"]["energy_interval_Wh"] is None
    assert "±" not in document["answer"]
    assert re.search(r"In all [\d.]+ Wh, of it", mission_table(document))
