"""Loads of a powered craft from its parts, by mechanics written out; all invented.

Drag along the velocity by half of density, speed squared and area; moments r x F, and the reaction
to a rotor's torque about its axis (Newton; from memory).
"""

from types import SimpleNamespace

import numpy as np
import pytest

from vlm.description.loading import load_biplane
from vlm.description.power import Rotor
from vlm.flight.craft.drag_bodies import drag
from vlm.flight.trim import drawn_craft, powered
from vlm.flight.trim.powered import FlightLoads, PoweredCraft, one_state

DENSITY = 1.2


def craft(**parts):
    """A powered craft with its parts put in."""
    return object.__new__(type("Put", (PoweredCraft,), parts))


AXES = np.array([[-1.0, 0.0, 0.0], [-0.8, 0.0, 0.6]])
PLACES = np.array([[0.1, 0.3, 0.2], [0.0, -0.4, 0.1]])
CENTRE = np.array([0.05, 0.0, 0.1])


def test_moments_of_rotors_are_those_of_thrust_and_the_reaction_to_torque():
    """Right-handed spin about the thrust pushes back left-handed."""
    made = craft(
        positions=PLACES, axes=AXES, spins=np.array([1.0, -1.0]),
        masses=SimpleNamespace(centre=CENTRE),
    )  # fmt: skip
    thrusts = np.array([[3.0, 5.0], [1.0, 0.0]])
    torques = np.array([[0.2, 0.4], [0.1, 0.0]])
    rotors = tuple(SimpleNamespace(torque=torques[:, i]) for i in range(2))
    force, moment = powered._rotor_loads(made, thrusts, rotors)
    for state in range(2):
        pulls = thrusts[state][:, None] * AXES
        turned = np.cross(PLACES - CENTRE, pulls).sum(axis=0)
        reaction = torques[state][0] * AXES[0] - torques[state][1] * AXES[1]
        np.testing.assert_allclose(force[state], pulls.sum(axis=0))
        np.testing.assert_allclose(moment[state], turned - reaction)


def test_rotors_meet_the_stream_along_and_across_their_axes(monkeypatch):
    """The first looks upstream: 10 m/s blow against its thrust; the second is tilted by 36.87
    degrees: 8 along, 6 across."""
    seen = {}

    def flow(thrust, axial, edgewise, density, area):
        seen[area] = (thrust, axial, edgewise, density)
        return SimpleNamespace(thrust=thrust, axial=axial, edgewise=edgewise, hover=thrust,
                               induced=10.0 * thrust)  # fmt: skip

    def state(flow, density):
        parts = {name: flow.thrust * k for k, name in
                 enumerate(("speed", "power", "torque", "in_range"), start=2)}  # fmt: skip
        return SimpleNamespace(flow=flow, **parts)

    monkeypatch.setattr(powered, "disc_flow", flow)
    model = SimpleNamespace(state=state)
    made = craft(
        axes=AXES, rotors=(None,) * 2, air=SimpleNamespace(density_kg_m3=DENSITY),
        rotor_kinds=([1], [0]), areas=np.array([0.02, 0.03]), rotor_models=(model, model),
    )  # fmt: skip
    stream = np.array([[10.0, 0.0, 0.0], [0.0, 5.0, 0.0]])
    thrusts = np.array([[3.0, 5.0], [1.0, 2.0]])
    found = powered.rotor_states(made, stream, thrusts)
    np.testing.assert_allclose(seen[0.02][1], [[10.0], [0.0]])
    np.testing.assert_allclose(seen[0.02][2], [[0.0], [5.0]], atol=1e-12)
    np.testing.assert_allclose(seen[0.03][1], [[8.0], [0.0]])
    np.testing.assert_allclose(seen[0.03][2], [[6.0], [5.0]])
    assert seen[0.03][3] == DENSITY
    for i, one in enumerate(found):
        np.testing.assert_allclose(one.flow.thrust, thrusts[:, i])
        np.testing.assert_allclose(one.flow.induced, 10.0 * thrusts[:, i])
        for k, name in enumerate(("speed", "power", "torque", "in_range"), start=2):
            np.testing.assert_allclose(getattr(one, name), k * thrusts[:, i])


def test_drag_areas_stand_in_the_stream_and_those_with_a_place_in_the_rotors_wind():
    """0.01 m^2 facing x alone in 10 m/s: 0.6 N; a body of 0.02 m^2 all round also in a wind of 10
    m/s across: 14.14 m/s, drag along both."""
    bodies = SimpleNamespace(
        areas=np.array([[0.01, 0.0, 0.0], [0.02, 0.02, 0.02]]), placed=np.array([False, True]),
        arms=lambda centre: np.array([[0.0, 0.0, 0.5], [0.0, 1.0, 0.0]]) - centre,
    )  # fmt: skip
    masses = SimpleNamespace(centre=np.zeros(3))
    made = craft(bodies=bodies, masses=masses, air=SimpleNamespace(density_kg_m3=DENSITY))
    stream = np.array([[10.0, 0.0, 0.0]])
    force, moment = powered._body_loads(made, stream, np.array([[[0.0, 10.0, 0.0]]]))
    aside = 0.6 * 200.0**0.5 * 10.0 * 0.02
    np.testing.assert_allclose(force, [[0.6 + aside, aside, 0.0]])
    np.testing.assert_allclose(moment, [[0.0, 0.5 * 0.6, -aside]])
    force, _ = powered._body_loads(made, stream, None)
    np.testing.assert_allclose(force, [[0.6 + 1.2, 0.0, 0.0]])


def test_drag_of_an_area_goes_with_the_square_of_the_speed():
    velocity = np.array([[3.0, 0.0, -4.0], [6.0, 0.0, -8.0]])
    found = drag(np.array([0.01, 0.02, 0.03]), velocity, DENSITY)
    np.testing.assert_allclose(found[0], [0.6 * 5 * 3 * 0.01, 0.0, -0.6 * 5 * 4 * 0.03])
    np.testing.assert_allclose(found[1], 4.0 * found[0])


def loads(states=2):
    """Of some states, all numbers different."""
    rows = np.arange(3.0 * states).reshape(states, 3)
    strips = SimpleNamespace(
        total=lambda scale: (rows + scale, 10.0 * rows), profile=None, profile_moment=None
    )
    return FlightLoads(
        stream=rows, strips=strips, coupled=None, body_force=100.0 + rows,
        body_moment=200.0 + rows, rotor_force=300.0 + rows, rotor_moment=400.0 + rows,
        rotors=(SimpleNamespace(power=np.arange(states)),
                SimpleNamespace(power=5.0 + np.arange(states))),
        wind=None, offset=np.array([0.1, 0.0, -0.2]), profile_scale=1.5,
    )  # fmt: skip


def test_total_loads_are_about_the_centre_of_gravity():
    """The wings' moment is moved from their moment point: M - r x F."""
    one = loads()
    rows = one.stream
    wing = rows + 1.5
    np.testing.assert_allclose(one.wings()[0], wing)
    moved = 10.0 * rows - np.cross([0.1, 0.0, -0.2], wing)
    np.testing.assert_allclose(one.wings()[1], moved)
    force, moment = one.total
    np.testing.assert_allclose(force, wing + 100.0 + rows + 300.0 + rows)
    np.testing.assert_allclose(moment, moved + 200.0 + rows + 400.0 + rows)
    np.testing.assert_allclose(one.shaft_powers, [[0.0, 5.0], [1.0, 6.0]])


@pytest.mark.parametrize("index", [0, 1])
def test_one_state_is_taken_out_with_its_axis(index):
    one = one_state(loads(), index)
    rows = loads().stream[index : index + 1]
    np.testing.assert_allclose(one.stream, rows)
    np.testing.assert_allclose(one.rotor_moment, 400.0 + rows)
    np.testing.assert_allclose(one.offset, [0.1, 0.0, -0.2])
    assert one.profile_scale == 1.5
    assert one.wind is None


@pytest.mark.parametrize(
    ("mass", "rotors", "drive", "words"),
    [
        (1, (1,), 1, None),
        (None, (1,), 1, r"\[mass\] is missing"),
        (1, (), None, r"\[\[rotors\]\], \[propulsion\] are missing"),
    ],
)
def test_blocks_that_power_needs(mass, rotors, drive, words):
    made = SimpleNamespace(mass=mass, rotors=rotors, propulsion=drive, source_name="x.toml")
    if words is None:
        powered.check_power_blocks(made)
    else:
        with pytest.raises(powered.BlockMissing, match=words):
            powered.check_power_blocks(made)


def rotor(name, spin="right", axis=(-1.0, 0.0, 0.0), solidity=0.1):
    return Rotor(
        name=name, spin=spin, axis=axis, position_m=(0.1, 0.2, 0.3), radius_m=0.1, form="blades",
        solidity=solidity, pitch_m=0.1,
    )  # fmt: skip


def test_rotors_by_kind_sense_and_direction(monkeypatch):
    monkeypatch.setattr(powered, "disc_area", lambda rotor: 0.02)
    # A direction is written with few digits; by hand: 0.6005 over hypot(0.6005, 0.8005).
    rotors = (
        rotor("a"), rotor("b", "left", solidity=0.2), rotor("c", "left", (0.0, 0.6005, 0.8005)),
    )  # fmt: skip
    made = craft(
        rotors=rotors, masses=SimpleNamespace(mass=1.5),
        air=SimpleNamespace(density_kg_m3=DENSITY),
    )  # fmt: skip
    assert PoweredCraft.rotor_kinds.func(made) == [[0, 2], [1]]
    assert PoweredCraft.spins.func(made).tolist() == [1.0, -1.0, -1.0]
    np.testing.assert_allclose(
        PoweredCraft.axes.func(made), [[-1, 0, 0], [-1, 0, 0], [0, 0.60008, 0.79994]], atol=1e-5
    )
    np.testing.assert_allclose(np.linalg.norm(PoweredCraft.axes.func(made), axis=1), 1.0)
    assert PoweredCraft.areas.func(made).tolist() == [0.02] * 3
    # A hundredth of T (T/(2 rho A))^(1/2) for a third of the weight (momentum theory, hover).
    share = 0.5 * 9.80665
    idle = 0.01 * share * (share / (2.0 * DENSITY * 0.02)) ** 0.5
    assert PoweredCraft.idle_power.func(made) == pytest.approx(idle)


def test_drag_areas_without_a_place_pull_at_the_centre_of_gravity(monkeypatch):
    areas = [
        SimpleNamespace(position_m=None, areas_m2=(0.01, 0.0, 0.0), area_m2=0.01),
        SimpleNamespace(position_m=(0.2, 0.3, 0.4), areas_m2=(0.02, 0.0, 0.0), area_m2=0.04),
    ]
    monkeypatch.setattr(powered, "strip_places", lambda model: (np.zeros((2, 3)), np.ones((2, 3))))
    made = craft(
        craft=SimpleNamespace(all_drag_areas=areas), masses=SimpleNamespace(centre=CENTRE),
        model=None,
    )  # fmt: skip
    bodies = PoweredCraft.bodies.func(made)
    np.testing.assert_allclose(bodies.arms(CENTRE), [[0, 0, 0], [0.15, 0.3, 0.3]])
    assert bodies.placed.tolist() == [1]
    assert bodies.areas.shape == (2, 3)
    places, spans = PoweredCraft.wind_points.func(made)
    np.testing.assert_allclose(places[2:], [[0.2, 0.3, 0.4]])
    np.testing.assert_allclose(spans[2:], [[0.0, 0.2, 0.0]])
    areas.pop()
    assert len(PoweredCraft.wind_points.func(made)[0]) == 2


def test_a_draw_of_the_rotors_power_leaves_what_the_air_drives(monkeypatch):
    """100 and 50 W driven count 1.2 times; 20 W of braking come back as before."""
    drive = load_biplane("tideline", ["propulsion.braking=recovered"]).propulsion
    assert drive is not None
    trim = SimpleNamespace(loads=SimpleNamespace(shaft_powers=np.array([[100.0, -20.0, 50.0]])))
    monkeypatch.setattr(drawn_craft, "direct_trim", lambda *_, **__: SimpleNamespace(trim=trim))
    made = SimpleNamespace(propulsion=drive, idle_power=0.0)
    share = drive.motor_efficiency * drive.controller_efficiency
    wanted = 1.2 * 150.0 / share - 20.0 * share + drive.fixed_load_W
    near = SimpleNamespace(speed=9.0)
    assert drawn_craft.drawn_power(made, near, 1.2) == pytest.approx(wanted, rel=1e-12)
