"""Sentences on what grows in level flight, from modes made up by hand."""

from dataclasses import fields
from math import log
from types import SimpleNamespace

from vlm.show.growth import growth_sentences, open_growth
from vlm.study.lateral.results import LateralStudy
from vlm.verdicts import SIGN_NOT_KNOWN


def setting(fold: float, pitch: str, roll: str, speed: float = 13.0, doubles: float = 2.0,
            reason: str | None = None):  # fmt: skip
    def mode(name, growth, time):
        """One that doubles in a time known to a tenth."""
        rate = log(2.0) / time
        return SimpleNamespace(
            name=name,
            growth=growth,
            double_time_s=time,
            real_1_s=rate,
            real_half_width_1_s=0.1 * rate,
        )

    blocks = {
        "longitudinal": [mode("phugoid", pitch, doubles)],
        "lateral": [mode("spiral", roll, 10.0 * doubles)],
    }
    return SimpleNamespace(
        fold_left_deg=fold, airspeed_m_s=speed, modes=blocks.__getitem__, reason=reason
    )


def study(*rows, asked: float = 13.0):
    """A study with these rows of modes, and with nothing else."""
    rest = {field.name: () for field in fields(LateralStudy)}
    return LateralStudy(**rest | {"state": {"airspeed_m_s": asked}, "modes": rows})


def test_what_grows_is_said_by_motion_fold_and_time() -> None:
    found = growth_sentences(
        study(
            setting(-30.0, "grows", "decays", doubles=0.5),
            setting(0.0, "grows", SIGN_NOT_KNOWN),
            setting(30.0, "grows", "grows"),
            setting(30.0, "grows", "grows", speed=18.0, doubles=0.01),
        )
    )
    assert found == [
        "Unstable in level flight at 13 m/s, controls fixed: in pitch at every fold looked at"
        " (quickest: phugoid, doubles in 0.500 ± 0.050 s) and in roll and yaw at 30 deg (quickest:"
        " spiral, doubles in 20.0 ± 2.0 s); control laws must hold it."
    ]


def test_folds_that_do_not_fly_level_are_not_said_to_grow() -> None:
    rows = setting(0.0, "grows", "decays"), setting(60.0, "", "", reason="too slow")
    [said] = growth_sentences(study(*rows))
    assert "in pitch at every fold looked at that flies level (quickest" in said
    [all_fly] = growth_sentences(study(rows[0]))
    assert "in pitch at every fold looked at (quickest" in all_fly


def test_nothing_is_said_of_what_decays() -> None:
    assert growth_sentences(study(setting(0.0, "decays", "decays"))) == []
    assert growth_sentences(study()) == []
    assert open_growth(study(setting(0.0, "decays", "grows"))) == []


def test_what_is_not_known_is_said_where_nothing_is_known_to_grow() -> None:
    rows = setting(0.0, SIGN_NOT_KNOWN, "grows"), setting(15.0, "decays", SIGN_NOT_KNOWN)
    assert open_growth(study(*rows)) == ["in pitch at 0 deg", "in roll and yaw at 15 deg"]


def test_sentence_and_table_take_modes_of_one_airspeed_and_name_it() -> None:
    """At 10 m/s, the nearest to the 9 asked for, no fold can be flown."""
    rows = (setting(0.0, "grows", "decays", speed=10.0, reason="cannot fly"),
            setting(0.0, "grows", "decays", speed=13.0),
            setting(0.0, "grows", "grows", speed=18.0))  # fmt: skip
    found = study(*rows, asked=9.0)
    assert [row.airspeed_m_s for row in found.asked_modes] == [13.0]
    assert growth_sentences(found)[0].startswith("Unstable in level flight at 13 m/s")
