"""What is said of the energies of a mission, by hand.

No source but the rules stated in the modules; all numbers are invented.
"""

from types import SimpleNamespace

import numpy as np
import pytest

from vlm.show.tables import mission as mission_table
from vlm.study.mission import answer as mission_answer
from vlm.study.mission import break_even as mission_break_even
from vlm.study.mission.candidate import energy_over_share


def flown(name, energy_Wh, samples=None, fold=0.0, span=1.0, legs=()):
    samples = None if samples is None else 3600.0 * np.asarray(samples, dtype=float)
    flight = SimpleNamespace(
        rule=None, legs=legs, seconds=600.0, energy=3600.0 * energy_Wh, reason=""
    )
    return SimpleNamespace(
        name=name, energy=3600.0 * energy_Wh, samples=samples, fold_deg=fold, tip_span_share=span,
        mass_kg=2.0, flight=flight,
    )  # fmt: skip


def mission(own, fixed=(), percent=90.0, capacity=None):
    uncertainty = None if percent is None else SimpleNamespace(interval_percent=percent)
    return SimpleNamespace(
        schedule=own, fixed=fixed, percent=percent,
        craft=SimpleNamespace(uncertainty=uncertainty, propulsion=capacity or object()),
    )  # fmt: skip


SPREAD = np.linspace(-1.0, 1.0, 201)


@pytest.mark.parametrize(
    ("other", "half", "text"),
    [
        (
            12.0,
            0.5,
            "takes 10.00 Wh, and saves 2.00 Wh or 16.7 % against 12.00 ± 0.45 Wh of the craft"
            " without the mechanism (flat); 90 % interval 1.55 to 2.45 Wh, 12.9 to 20.4 %.",
        ),
        (
            9.0,
            0.5,
            "takes 10.00 Wh, and costs 1.00 Wh or 11.1 % against 9.00 ± 0.45 Wh of the craft"
            " without the mechanism (flat); 90 % interval 0.55 to 1.45 Wh, 6.1 to 16.1 %.",
        ),
        (
            10.2,
            0.5,
            "No difference: folding along the schedule takes 10.00 Wh, the craft without the"
            " mechanism (flat) 0.20 Wh more; 90 % interval -0.25 to 0.65 Wh.",
        ),
        (9.8, 0.5, "(flat) 0.20 Wh less; 90 % interval -0.65 to 0.25 Wh."),
    ],
)
def test_a_mission_s_answer(other, half, text):
    """The middle nine tenths of evenly spread draws: 0.9 of the half-range."""
    own = flown("schedule", 10.0, np.full(201, 10.0))
    rival = flown("flat", other, other + half * SPREAD)
    assert text in mission_answer.answer(mission(own, (rival,)), rival)


def test_a_total_reaches_to_the_farther_end_of_its_interval():
    """Draws evenly from 8 to 11.2 Wh: the middle nine tenths end at 8.16 and 11.04 Wh."""
    own = flown("schedule", 10.0, np.linspace(8.0, 11.2, 3201))
    study = mission(own)
    assert mission_answer.total(study, own) == "10.0 ± 1.8 Wh"
    assert mission_answer.total(mission(own, percent=None), own) == "10.00 Wh"


@pytest.mark.parametrize("percent", [90.0, None])
def test_energies_that_no_printed_digit_tells_apart_are_no_difference(percent):
    """0.004 Wh in either sense, and no "0.00 to 0.00 Wh"."""
    own = flown("schedule", 10.0, np.full(201, 10.0))
    rival = flown("flat", 10.004, 10.004 + 0.001 * SPREAD)
    text = mission_answer.answer(mission(own, (rival,), percent), rival)
    assert text == (
        "No difference: folding along the schedule and the craft without the mechanism (flat) both"
        " take 10.00 Wh, within 0.01 Wh"
        f"{'' if percent else '; the file states no [uncertainty], so there is no interval'}."
    )
    near = flown("flat", 10.004, 10.004 + SPREAD)
    text = mission_answer.answer(mission(own, (near,)), near)
    assert "(flat) less than 0.01 Wh more; 90 % interval -0.90 to 0.90 Wh." in text
    way = {"schedule_saves_Wh": 0.004, "schedule_saves_interval_Wh": [-0.001, 0.005]}
    assert mission_table._saves("held: flat", way, interval=True) == "less than 0.01"
    way = {"schedule_saves_Wh": 0.004, "schedule_saves_interval_Wh": None}
    assert mission_table._saves("held: flat", way, interval=True) == "less than 0.01 (no interval)"
    assert mission_table._ends([-0.001, 0.005]) == "less than 0.01"


def test_a_mission_s_answer_without_an_interval_or_a_rival():
    own, rival = flown("schedule", 10.0), flown("flat", 12.5)
    text = mission_answer.answer(mission(own, percent=None), rival)
    assert "saves 2.50 Wh or 20.0 %" in text
    assert text.endswith("states no [uncertainty], so there is no interval.")
    assert "no craft that does not fold can fly it" in mission_answer.answer(mission(own), None)


def piece(speed, fold=5.0):
    return SimpleNamespace(piece=SimpleNamespace(speed=speed, fold_deg=fold))


def leg(kind, seconds, flight_Wh, folding_Wh=0.0, holding_Wh=0.0, pieces=()):
    flight, folding, holding = (3600.0 * v for v in (flight_Wh, folding_Wh, holding_Wh))
    return SimpleNamespace(
        leg=SimpleNamespace(kind=kind, label=kind, airspeed_m_s=None),
        seconds=seconds,
        flight_energy=flight,
        folding=folding,
        holding=holding,
        energy=flight + folding + holding,
        pieces=pieces,
        reason="",
    )


def test_legs_that_are_held_by_the_same_share_a_sentence():
    def held_by(headwind=None):
        return ("stall margin", "hinge moment") if headwind is None else ()

    legs = (leg("climb", 1.0, 1.0), leg("dash", 1.0, 1.0), leg("loiter", 1.0, 1.0))
    for one in legs:
        one.leg.headwind_m_s = None
    own = flown("schedule", 3.0, legs=legs)
    own.flight.rule = SimpleNamespace(speed_held_by=held_by)
    assert mission_answer.airspeeds_answer(mission(own)) == (
        "Airspeed held by stall margin and hinge moment: climb, loiter."
    )


def test_the_rows_of_a_mission(monkeypatch):
    """5 Wh in six minutes are 50 W; the battery of 20 Wh holds what is left after each leg."""
    monkeypatch.setattr(mission_answer, "usable_energy", lambda propulsion: 20.0 * 3600.0)
    legs = (
        leg("cruise", 360.0, 4.5, 0.3, 0.2, (piece(14.0), piece(15.0, 9.0))),
        leg("transition", 36.0, 2.0, pieces=(piece(3.0, 1.0),)),
        leg("hover", 36.0, 1.0),
    )
    own = flown("schedule", 8.0, 8.0 + SPREAD, legs=legs)
    study = mission(own)
    rows = mission_answer._legs(study, own.flight)
    first = rows[0]
    assert (first["airspeed_m_s"], first["fold_deg"]) == (14.0, 9.0)
    assert (first["mean_power_W"], first["energy_Wh"]) == pytest.approx((50.0, 5.0))
    assert (first["flight_Wh"], first["folding_Wh"], first["holding_Wh"]) == pytest.approx(
        (4.5, 0.3, 0.2)
    )
    assert [r["battery_left_Wh"] for r in rows] == pytest.approx([15.0, 13.0, 12.0])
    assert (rows[1]["airspeed_m_s"], rows[1]["fold_deg"]) == (None, 1.0)
    assert (rows[2]["airspeed_m_s"], rows[2]["fold_deg"]) == (None, None)
    rival = flown("flat", 10.0, 10.0 + SPREAD + 0.5 * SPREAD[::-1], legs=legs)
    row = mission_answer._candidate(study, rival)
    assert (row["energy_Wh"], row["folding_Wh"]) == pytest.approx((10.0, 0.3))
    assert (row["schedule_saves_Wh"], row["schedule_saves_percent"]) == pytest.approx((2.0, 20.0))
    assert row["schedule_saves_interval_Wh"] == pytest.approx([1.55, 2.45])
    assert row["energy_interval_Wh"] == pytest.approx([9.55, 10.45])
    assert mission_answer._candidate(study, own)["schedule_saves_interval_Wh"] is None


@pytest.mark.parametrize(("needed", "told_"), [(19.0, False), (21.0, True)])
def test_a_battery_that_is_too_small_is_reported(monkeypatch, needed, told_):
    monkeypatch.setattr(mission_answer, "usable_energy", lambda propulsion: 20.0 * 3600.0)
    monkeypatch.setattr(mission_answer, "flight_doubts", lambda flight: [])
    study = mission(flown("schedule", needed))
    study.left_out = []
    found = mission_answer.mission_findings(study)
    assert [(f.code, f.value, f.limit) for f in found] == (
        [("battery", pytest.approx(21.0), 20.0)] if told_ else []
    )


@pytest.mark.parametrize(
    ("needed", "half", "code", "value"),
    [(19.0, 0.5, None, 0.0), (19.0, 2.0, "battery_not_known", 20.8), (19.0, None, None, 0.0),
     (21.0, 2.0, "battery", 21.0), (np.nan, 2.0, None, 0.0)],
)  # fmt: skip
def test_whether_a_battery_is_enough_is_not_known_within_the_interval(
    monkeypatch, needed, half, code, value
):
    """Nine tenths of even draws reach to 0.9 of their half-range: 19 + 0.9 x 2 against 20 Wh."""
    monkeypatch.setattr(mission_answer, "usable_energy", lambda propulsion: 20.0 * 3600.0)
    monkeypatch.setattr(mission_answer, "flight_doubts", lambda flight: [])
    own = flown("schedule", needed, None if half is None else needed + half * SPREAD)
    study = mission(own)
    study.left_out = ()
    found = [(f.code, f.value, f.limit) for f in mission_answer.mission_findings(study)]
    assert found == ([] if code is None else [(code, pytest.approx(value, rel=1e-3), 20.0)])


@pytest.mark.parametrize(
    ("moments", "kinds", "value"),
    [
        ({10.0: 1.0, 14.0: -2.0}, {}, (14.0, 2.0, 10.0)), ({10.0: 1.0, 14.0: 2.0}, {}, None),
        ({10.0: 1.0, 14.0: -2.0}, {14.0: "transition"}, None), ({4.0: -1.0, 14.0: 2.0}, {}, None),
        ({10.0: 1.0, 14.0: np.nan}, {}, None), ({10.0: -1.0, 14.0: 3.0}, {}, (10.0, 1.0, 14.0)),
    ],
)  # fmt: skip
def test_a_roll_command_that_reverses_between_legs_is_reported(monkeypatch, moments, kinds, value):
    """Above the schedule's lowest airspeed of 5 m/s, transitions apart."""
    monkeypatch.setattr(mission_answer, "usable_energy", lambda propulsion: None)
    monkeypatch.setattr(mission_answer, "flight_doubts", lambda flight: [])
    legs = tuple(leg(kinds.get(v, "cruise"), 1.0, 1.0, pieces=(piece(v),)) for v in moments)
    own = flown("schedule", 1.0, legs=legs)
    own.flight.rule = SimpleNamespace(
        table=SimpleNamespace(
            constraints=SimpleNamespace(schedule=SimpleNamespace(airspeed_min_m_s=5.0)),
            setting=lambda fold, speed: SimpleNamespace(
                quantities={mission_answer.ROLL_MOMENT: moments[speed]}
            ),
        )
    )
    study = mission(own)
    study.left_out = []
    found = mission_answer.mission_findings(study)
    assert [f.value for f in found] == ([] if value is None else [value[1]])
    words = value and f"to starboard at {value[2]:g} m/s and to port at {value[0]:g} m/s;"
    assert all(words in f.what for f in found)


def with_mechanism(reweighed, percent=90.0, own_kg=0.2, total=2.0):
    """A schedule that takes 10 Wh with 0.2 kg of mechanisms, and what it takes with others."""
    study = mission(flown("schedule", 10.0, np.full(201, 10.0)), percent=percent)
    study.craft.mass = SimpleNamespace(mechanism_kg=own_kg, total_kg=total)
    study.percent = percent
    study.reweighed = []
    for kg, energy, spread in reweighed:
        one = flown("schedule", energy, energy + spread * SPREAD)
        one.mass_kg = total - own_kg + kg
        study.reweighed.append(one)
    study.schedule.mass_kg = total
    return study


BARE = (0.0, 8.0, 0.0)
"""8 Wh without a mechanism, so 10 Wh for each kg of it."""


@pytest.mark.parametrize(
    ("rival", "half", "reweighed", "mass", "ends", "words"),
    [
        (9.0, 0.0, [BARE], 0.1, (0.1, 0.1), "weigh less than 100 g (90 % interval 100 to 100 g)"),
        # 0.9 of 0.5 Wh are 45 g either way.
        (9.0, 0.5, [BARE], 0.1, (0.055, 0.145), "(90 % interval 55 to 145 g); they weigh 200 g"),
        (8.2, 0.5, [BARE], 0.02, (0.0, 0.065), "less than 20 g (90 % interval 0 to 65 g)"),
        (7.5, 0.5, [BARE], None, None, "even if the mechanism weighed nothing: it would still"
         " take 0.50 Wh more"),
        (7.7, 0.5, [BARE], None, None, "not known whether folding would pay if the mechanism"
         " weighed nothing: it would then save -0.30 Wh, 90 % interval -0.75 to 0.15 Wh"),
        # Flown again with 0.3 kg: 12 Wh, where a straight line has 11.
        (11.0, 0.0, [BARE, (0.3, 12.0, 0.0)], 0.25, (0.25, 0.25), "less than 250 g"),
        (20.0, 0.0, [BARE, (0.5, 13.0, 0.0)], None, None, "up to a mechanism of 0.50 kg"),
        (20.0, 10.0, [BARE, (0.5, 13.0, 0.0)], None, None, "not known up to what mass of the"
         " mechanism folding pays: with 500 g it would save 7.00 Wh, 90 % interval -2.00 to 16.0"),
        # A weight that helps to trim the craft: 10.5 Wh without it, 10 with 0.2 kg.
        (10.2, 0.0, [(0.0, 10.5, 0.0)], None, None, "with a mechanism that weighed nothing folding"
         " would take 0.30 Wh more, with the file's it takes 0.20 Wh less"),
        (9.0, 0.0, [], None, None, "names no mechanism"),
    ],
)  # fmt: skip
def test_the_mass_at_which_folding_stops_to_pay(rival, half, reweighed, mass, ends, words):
    study = with_mechanism(reweighed)
    other = flown("flat", rival, rival + half * SPREAD)
    found, interval, text = mission_break_even.mass_break_even(study, other)
    assert found == (None if mass is None else pytest.approx(mass))
    assert interval == (None if ends is None else pytest.approx(list(ends), abs=1e-6))
    assert words in text


def test_the_mass_of_a_mechanism_without_rival_interval_or_flight():
    study = with_mechanism([BARE], percent=None)
    found, interval, text = mission_break_even.mass_break_even(study, flown("flat", 9.0))
    assert (found, interval) == (pytest.approx(0.1), None)
    assert "interval" not in text
    assert mission_break_even.mass_break_even(study, None)[:2] == (None, None)
    study.reweighed[0].flight.reason = "hover: power"
    text = mission_break_even.mass_break_even(study, flown("flat", 9.0))[2]
    assert text.startswith("not known: with one that weighs nothing the schedule fails (hover")


def test_energy_over_the_share_of_loiter_stretches_legs_alike():
    """Folding stays; 100 s of loiter at 40 W, 300 s at 110 W."""
    legs = [
        leg("loiter", 100.0, 40.0 * 100.0 / 3600.0, 0.5),
        leg("dash", 300.0, 110.0 * 300.0 / 3600.0),
    ]
    one, energies = flown("x", 1.0, legs=legs), np.array([leg.energy for leg in legs])
    found = energy_over_share(one, 100.0, 400.0, energies)
    shares = np.linspace(0.0, 1.0, 201)
    wanted = 400.0 * (40.0 * shares + 110.0 * (1.0 - shares)) + 1800.0
    np.testing.assert_allclose(found, wanted)
    drawn = energy_over_share(one, 100.0, 400.0, energies[:, None] * np.ones(3))
    np.testing.assert_allclose(drawn, wanted[:, None] * np.ones(3))


def shared(loiter, dash, half=0.0):
    """100 s of loiter and 300 s of dash at these powers [W], spread alike over the draws."""
    legs = [leg("loiter", 100.0, loiter / 36.0), leg("dash", 300.0, dash / 12.0)]
    one = flown("x", (loiter + 3.0 * dash) / 36.0, legs=legs)
    one.flight.part = lambda kind: (100.0, 0.0)
    one.flight.seconds = 400.0
    one.leg_samples = np.array([[100.0], [300.0]]) * (
        np.array([[loiter], [dash]]) + half * np.linspace(-1.0, 1.0, 201)
    )
    return one


@pytest.mark.parametrize(
    ("loiter", "dash", "half", "share", "ends", "words"),
    [
        # 60 + 30 - (100 - 40 x): 0.9 of 4 W are a share of 0.09 either way.
        (40.0, 110.0, 0.0, 1 / 3, (1 / 3, 1 / 3), "starts to pay at a share of loiter of 33 %"),
        (40.0, 110.0, 4.0, 1 / 3, (0.215, 0.45), "33 % of the time (90 % interval 22 to 45 %)"),
        (70.0, 110.0, 0.0, None, None, "never pays, whatever the share of loiter (now 25 %)"),
        (50.0, 90.0, 5.0, None, None, "always pays"),
        (63.0, 110.0, 5.0, None, None, "does not pay at a share of loiter of 0 to 78.5 % of the"
         " time; elsewhere it is not known"),
        # 10 - 12 x: nine tenths of 5 W are more than the 2 W that it would save in loiter alone.
        (58.0, 110.0, 5.0, None, None, "does not pay at a share of loiter of 0 to 45.5 % of the"
         " time; elsewhere it is not known"),
        (61.0, 101.0, 5.0, None, None, "at no share of loiter is it known whether folding pays"),
    ],
)  # fmt: skip
def test_what_is_known_of_the_share_of_loiter_hangs_on_the_interval(
    loiter, dash, half, share, ends, words
):
    """Against a craft of 60 W in loiter and 100 W in dash."""
    own, rival = shared(loiter, dash, half), shared(60.0, 100.0)
    found, interval, text = mission_break_even.loiter_break_even(own, [rival], 90.0)
    assert found == (None if share is None else pytest.approx(share))
    assert interval == (None if ends is None else pytest.approx(list(ends), abs=0.005))
    assert words in text
