"""Models of a rotor against wind-tunnel tests of research propellers.

Source: R. W. Deters, G. K. Ananda, M. S. Selig, AIAA 2014-2151, and the authors' open propeller
database (tests/published/data/deters-2014-*.csv).
"""

from pathlib import Path

import measured_rotors
import numpy as np
import pytest
from measured_rotors import research_propellers

from vlm.description.blade_table import blade_stations
from vlm.description.power import Rotor
from vlm.errors import InputRefused
from vlm.flight.trim.power_warnings import CALIBRATED, UNCALIBRATED
from vlm.power.element_rotor import blades_of, element_model
from vlm.power.elements import rotor_coefficients
from vlm.power.momentum import disc_flow, hover_velocity
from vlm.power.rotor import disc_area, hover_state, rotor_model

DENSITY = 1.225


def errors(folder: Path, *, turned: bool) -> np.ndarray:
    """Relative errors of thrust and power at the measured speed, shape (rows, 2)."""
    found = []
    for tested in research_propellers():
        rows = tested.loaded
        blades = measured_rotors.element_blades(tested, folder, turned=turned)
        thrust, power = measured_rotors.by_elements(rows, blades, rows.ratio, rows.turns)
        found.append(np.column_stack([thrust / rows.thrust - 1.0, power / rows.power - 1.0]))
    return np.concatenate(found)


def test_the_data_are_all_there() -> None:
    assert len(research_propellers()) == 4
    assert sum(len(tested.loaded.ratio) for tested in research_propellers()) == 240


def test_elements_with_the_measured_ratio_without_thrust(tmp_path: Path) -> None:
    """Thrust within 6 % and power within 8 % in the median, at the measured speed of rotation.

    The blades are turned by the one angle that puts the advance ratio without thrust where it was
    measured: their chord lines were measured to a degree or two, and what their sections' zero-lift
    angle is was not.
    """
    sizes = np.abs(errors(tmp_path, turned=True))
    thrust, power = np.median(sizes, axis=0)
    assert thrust < 0.06
    assert power < 0.08
    # One row in 240, at C_T = 0.034 and a chord Reynolds number of 20 000, is further off.
    assert np.sum(np.any(sizes > 0.15, axis=1)) <= 1
    assert sizes.max() < 0.18


def test_elements_without_it_are_much_worse(tmp_path: Path) -> None:
    """What docs/power.md says of blade angles as they were measured."""
    sizes = np.abs(errors(tmp_path, turned=False))
    assert 0.06 < np.median(sizes[:, 0]) < 0.12
    assert 0.10 < np.median(sizes[:, 1]) < 0.16
    assert sizes.max() > 1.0


def power_at_thrust(folder: Path, *, turned: bool) -> np.ndarray:
    """Relative errors of power and speed of rotation at the measured thrust, shape (rows, 2)."""
    found = []
    for tested in research_propellers():
        measured_rotors.element_blades(tested, folder)
        more = {"no_thrust_advance_ratio": tested.no_thrust} if turned else {}
        rotor = Rotor(
            **measured_rotors.PLAIN, radius_m=0.5 * tested.diameter, form="elements",
            blade_table=f"{tested.name}.csv", **more,
        )  # type: ignore[arg-type]  # fmt: skip
        power, speed = measured_rotors.at_measured_thrust(tested.loaded, rotor, folder)
        found.append(np.column_stack([power - 1.0, speed - 1.0]))
    return np.concatenate(found)


@pytest.mark.slow
def test_power_at_a_given_thrust_is_what_docs_and_warnings_say(tmp_path: Path) -> None:
    """What a trim asks for: with the ratio without thrust, and with blade angles as measured."""
    with_ratio = np.abs(power_at_thrust(tmp_path, turned=True))
    without = np.abs(power_at_thrust(tmp_path, turned=False))
    assert np.median(with_ratio[:, 0]) == pytest.approx(0.032, abs=0.004)
    assert with_ratio[:, 0].max() < 0.01 * CALIBRATED
    assert np.median(without[:, 0]) == pytest.approx(0.040, abs=0.005)
    assert without[:, 0].max() == pytest.approx(0.01 * UNCALIBRATED, abs=0.01)
    assert np.median(with_ratio[:, 1]) < 0.016
    assert np.median(without[:, 1]) > 0.03


def test_blades_form_has_no_bias_in_power() -> None:
    """Power at the measured thrust: no bias, 4 % in the median, 26 % at worst (in hover at a chord
    Reynolds number of 20 000)."""
    ratios = np.concatenate(
        [measured_rotors.blades_form_power(tested.loaded)[0] for tested in research_propellers()]
    )
    assert np.median(ratios) == pytest.approx(1.0, abs=0.01)
    assert np.median(np.abs(ratios - 1.0)) < 0.045
    assert 0.73 < ratios.min() < ratios.max() < 1.16
    at_rest = np.concatenate(
        [
            measured_rotors.blades_form_power(tested)[0][tested.ratio == 0.0]
            for tested in research_propellers()
        ]
    )
    assert np.median(at_rest) == pytest.approx(1.0, abs=0.06)


# An invented blade, of the size of the demo craft's.
BLADE = "\n".join(
    ["r_R,chord_R,beta_deg"]
    + [
        f"{r:g},{0.2 - 0.08 * r:g},{np.degrees(np.arctan(0.16 / r)):g}"
        for r in (0.15, 0.3, 0.5, 0.7, 0.9, 1.0)
    ]
)


@pytest.fixture
def rotor(tmp_path: Path) -> Rotor:
    (tmp_path / "blade.csv").write_text(BLADE)
    return Rotor(**measured_rotors.PLAIN, radius_m=0.12, form="elements", blade_table="blade.csv")  # type: ignore[arg-type]


def test_table_of_coefficients_gives_back_the_elements(rotor: Rotor, tmp_path: Path) -> None:
    """Splines over the nodes against equations (1) solved directly, in random states."""
    random = np.random.default_rng(1)
    along, across = random.uniform(0.0, 0.2, 100), random.uniform(0.0, 0.2, 100)
    reynolds = np.exp(random.uniform(np.log(6e4), np.log(8e5), 100))
    direct = rotor_coefficients(blades_of(rotor, tmp_path), along, across, reynolds)
    model = element_model(rotor, tmp_path)
    read = model.table(np.stack([along, across, np.log(reynolds)], axis=-1)).T
    parts = (direct.thrust, direct.torque, direct.drag)
    for values, found in zip(parts, read, strict=True):
        apart = np.abs(found - values) / np.abs(values).max()
        assert np.median(apart) < 0.004
        assert apart.max() < 0.04  # beside stall at the lowest Reynolds numbers


def test_the_speed_gives_the_thrust_asked_for(rotor: Rotor, tmp_path: Path) -> None:
    thrust = np.array([6.0, 6.0, 3.0, 0.5, 0.0, -0.2])
    flow = disc_flow(thrust, [0.0, 8.0, 2.0, 15.0, 15.0, 15.0], [0.0, 0.0, 6.0, 3.0, 0.0, 0.0],
                     DENSITY, disc_area(rotor))  # fmt: skip
    model = element_model(rotor, tmp_path)
    state = model.state(flow, DENSITY)
    assert state.in_range.all()
    tip = state.speed * rotor.radius_m
    given = model.coefficients(flow, tip, DENSITY)[0] * DENSITY * tip**2 * rotor.radius_m**2
    np.testing.assert_allclose(given, thrust, atol=1e-9)
    # The air drives a rotor that brakes: less and less power as its thrust falls below zero.
    assert state.power[3] > state.power[4] > state.power[5]


def test_power_is_more_than_momentum_asks_for(rotor: Rotor, tmp_path: Path) -> None:
    """P > T (V + v) in climb and hover; the figure of merit of small rotors is about 0.4 to 0.65
    (Bohorquez; Hein and Chopra, range from memory)."""
    state = hover_state(rotor, 4.0, DENSITY, tmp_path)
    hover = float(hover_velocity(4.0, DENSITY, disc_area(rotor)))
    assert 0.4 < 4.0 * hover / float(state.power) < 0.7
    flow = disc_flow(np.full(3, 4.0), np.array([2.0, 8.0, 16.0]), 0.0, DENSITY, disc_area(rotor))
    assert np.all(rotor_model(rotor, tmp_path).state(flow, DENSITY).power > flow.ideal_power)


def test_inclined_flow_saves_power_as_glauert_says(rotor: Rotor, tmp_path: Path) -> None:
    """Across the axis the same thrust asks for less induced power (H. Glauert, R&M 1111, 1926)."""
    edge = np.array([0.0, 3.0, 6.0])
    flow = disc_flow(np.full(3, 4.0), 0.0, edge, DENSITY, disc_area(rotor))
    power = rotor_model(rotor, tmp_path).state(flow, DENSITY).power
    ideal = flow.ideal_power
    assert power[2] < power[1] < power[0]
    saved = (power[0] - power[2]) / (ideal[0] - ideal[2])
    assert 0.4 < saved < 1.4  # what the blades' drag takes back is in it


def test_blades_turn_to_the_ratio_asked_for(tmp_path: Path) -> None:
    (tmp_path / "blade.csv").write_text(BLADE)
    rotor = Rotor(
        **measured_rotors.PLAIN, radius_m=0.12, form="elements", blade_table="blade.csv",
        no_thrust_advance_ratio=0.6,
    )  # type: ignore[arg-type]  # fmt: skip
    wind, model = 15.0, rotor_model(rotor, tmp_path)
    state = model.state(disc_flow(0.0, wind, 0.0, DENSITY, disc_area(rotor)), DENSITY)
    ratio = wind / (float(state.speed) / (2.0 * np.pi) * 0.24)
    assert ratio == pytest.approx(0.6, rel=0.03)  # the turn is made at one Reynolds number
    far = rotor.model_copy(update={"no_thrust_advance_ratio": 3.0})
    with pytest.raises(InputRefused, match="no turn of the blades"):
        blades_of(far, tmp_path)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("r_R,chord_R,beta_deg\n0.2,0.1,30\n1,0.1,10", "at least 3 rows"),
        ("r_R,chord_R,beta_deg\n0.2,0.1,30\n0.2,0.1,20\n1,0.1,10", "r_R = 0.2 stands twice"),
        ("r_R,chord_R,beta_deg\n0.2,0.1,30\n0.5,0.1,20\n0.8,0.1,10", "must reach the tip"),
        ("r_R,chord_R,beta_deg\n0.2,0,30\n0.5,0.1,20\n1,0.1,10", "it must be positive"),
        ("r_R,chord_R,beta_deg\n0,0.1,30\n0.5,0.1,20\n1,0.1,10", "it must be above 0"),
        ("r_R,chord_R,beta\n0.2,0.1,30\n0.5,0.1,20\n1,0.1,10", "did you mean beta_deg?"),
        ("r_R,chord_R,beta_deg\n20,10,30\n50,10,20\n100,10,10", "r_R = 20; values beyond 1"),
    ],
)
def test_a_bad_blade_table_is_refused_with_its_line(tmp_path: Path, text: str, told: str) -> None:
    (tmp_path / "b.csv").write_text(text)
    with pytest.raises(InputRefused, match=r"b\.csv") as refused:
        blade_stations("b.csv", tmp_path)
    assert told in str(refused.value)
