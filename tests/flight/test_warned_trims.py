"""Trims that are warned of, by hand: each on both sides of its limit.

No source but the limits stated in the module; all numbers are invented.
"""

from types import SimpleNamespace

import numpy as np
import pytest

from vlm.constants import GRAVITY
from vlm.flight.trim import power_warnings


def group(low=50.0, high=200.0, form="table", alphas=(-0.2, 0.3), known=True):
    return SimpleNamespace(
        name="s", strips=np.array([0, 1, 2]),
        polar=SimpleNamespace(known_reynolds=(low, high) if known else None, known_alpha=alphas),
        section=SimpleNamespace(form=form, value=lambda key: {"reynolds": 100.0}[key]),
    )  # fmt: skip


def strips(speed=(10.0, 10.0, 4.9), reynolds=(60.0, 150.0, 999.0), alpha=(0.0, 0.1, 9.0)):
    """Three strips; the last is loaded by less than half of the wind's scale."""
    state = SimpleNamespace(
        speed=np.array([speed]), reynolds=np.array([reynolds]), alpha=np.array([alpha])
    )
    onset = SimpleNamespace(scale=np.array([10.0]), attached=np.array([[1.0, 1.0, 0.5]]))
    return SimpleNamespace(coupled=SimpleNamespace(state=state, onset=onset))


@pytest.mark.parametrize(
    ("reynolds", "value", "limit"),
    [
        ((60.0, 150.0, 999.0), None, None),
        ((49.0, 150.0, 9.0), 49.0, 50.0),
        ((60.0, 201.0, 9.0), 201.0, 200.0),
        ((49.0, 201.0, 9.0), 49.0, 50.0),
    ],
)
def test_reynolds_numbers_outside_a_section_s(reynolds, value, limit):
    craft = SimpleNamespace(model=SimpleNamespace(groups=[group()]))
    found = list(power_warnings._section_warnings(craft, strips(reynolds=reynolds)))
    assert [(f.code, f.value, f.limit) for f in found] == (
        [("reynolds_number", value, limit)] if value else []
    )


@pytest.mark.parametrize(
    ("alpha", "value", "limit"),
    [
        ((0.0, 0.3, 9.0), None, None),
        ((-0.2, 0.1, 9.0), None, None),
        ((0.0, 0.35, 9.0), 0.35, 0.3),
        ((-0.25, 0.1, 9.0), -0.25, -0.2),
        ((-0.25, 0.35, 9.0), 0.35, 0.3),
    ],
)
def test_angles_outside_a_section_s_table(alpha, value, limit):
    craft = SimpleNamespace(model=SimpleNamespace(groups=[group()]))
    found = list(power_warnings._section_warnings(craft, strips(alpha=alpha)))
    expected = [np.degrees([value, limit])] if value else []
    told = np.reshape([(f.value, f.limit) for f in found], (-1, 2))
    np.testing.assert_allclose(told, np.reshape(expected, (-1, 2)))
    other = SimpleNamespace(model=SimpleNamespace(groups=[group(form="parametric")]))
    assert list(power_warnings._section_warnings(other, strips(alpha=alpha))) == []


def test_the_range_of_reynolds_numbers_of_a_section():
    assert power_warnings.reynolds_range(group()) == (50.0, 200.0)
    assert power_warnings.reynolds_range(group(known=False)) == (0.0, np.inf)
    assert power_warnings.reynolds_range(group(known=False, form="p")) == (20.0, 500.0)


def rotor(form="table", no_thrust=None):
    return SimpleNamespace(name="r", form=form, no_thrust_advance_ratio=no_thrust)


@pytest.mark.parametrize(("merit", "limit"), [(0.35, None), (0.8, None), (0.34, 0.35), (0.81, 0.8)])
def test_figures_of_merit_that_are_not_usual(monkeypatch, merit, limit):
    seen = []
    monkeypatch.setattr(power_warnings, "hover_state", lambda *words: seen.append(words))
    monkeypatch.setattr(power_warnings, "figure_of_merit", lambda state: merit)
    craft = SimpleNamespace(
        model=SimpleNamespace(groups=[]), masses=SimpleNamespace(mass=2.0), rotors=[rotor()] * 2,
        air=SimpleNamespace(density_kg_m3=1.1), craft=SimpleNamespace(folder="f"),
    )  # fmt: skip
    found = list(power_warnings._craft_warnings(craft))
    assert [(f.value, f.limit) for f in found] == [(merit, limit)] * (2 if limit else 0)
    assert seen[0][1:] == (pytest.approx(GRAVITY), 1.1, "f")


@pytest.mark.parametrize(
    ("form", "ratio", "named"),
    [("elements", None, True), ("elements", 0.7, False), ("table", None, False)],
)
def test_blade_elements_that_nothing_calibrates(monkeypatch, form, ratio, named):
    monkeypatch.setattr(power_warnings, "hover_state", lambda *words: None)
    monkeypatch.setattr(power_warnings, "figure_of_merit", lambda state: 0.5)
    craft = SimpleNamespace(
        model=SimpleNamespace(groups=[]), masses=SimpleNamespace(mass=2.0),
        rotors=[rotor(form, ratio)], air=SimpleNamespace(density_kg_m3=1.1),
        craft=SimpleNamespace(folder="f"),
    )  # fmt: skip
    found = list(power_warnings._craft_warnings(craft))
    assert [(f.code, f.value, f.limit) for f in found] == (
        [("rotor_not_calibrated", 30.0, None)] if named else []
    )
    assert all("up to 20 % with one, and without" in f.what for f in found)


@pytest.mark.parametrize(("part", "words"), [("fin", "a fin without"), ("main", "wings without")])
def test_strips_without_a_section_are_reported_by_their_area(part, words):
    model = SimpleNamespace(
        groups=[SimpleNamespace(name="", strips=np.array([1, 2])), group()],
        strips=SimpleNamespace(patch=np.array([0, 1, 1]), area=np.array([9.0, 0.2, 0.3])),
        lattice=SimpleNamespace(patches=[SimpleNamespace(part="x"), SimpleNamespace(part=part)]),
    )
    craft = SimpleNamespace(model=model, rotors=[0], masses=SimpleNamespace(mass=1.0))
    found = next(power_warnings._craft_warnings(craft))
    assert (found.code, found.value) == ("no_section", pytest.approx(0.5))
    assert found.what.startswith(words)


class Point(SimpleNamespace):
    def value(self, name):
        return self.angle


def test_a_trim_that_turns_by_much_and_one_of_several():
    angles, trims = (40.0, 25.0, 9.9, 25.0, 9.9), (1, 2, 1, 1, 1)
    points = [Point(speed=6.0 + i, angle=angle, trims=trims[i]) for i, angle in enumerate(angles)]
    found = power_warnings._jumps(SimpleNamespace(points=points))
    assert [(f.code, round(f.value, 6), f.limit) for f in found] == [
        ("jump", 15.1, 15.0), ("jump", 15.1, 15.0), ("jump", 15.1, 15.0), ("several_trims", 2, None)
    ]  # fmt: skip
    assert "between 7 and 8 m/s" in found[0].what


@pytest.mark.parametrize(
    ("speed", "wind", "angle", "left", "codes"),
    [
        (5.0, 10.0, 28.0, 0.0, ["deep_stall"]),
        (0.0, 10.0, 28.0, 0.0, []),
        (5.0, 0.0, 28.0, 0.0, []),
        (5.0, 10.0, 24.0, 0.0, []),
        (5.0, 10.0, 24.0, -2e-6, ["moment_left_over"]),
        (5.0, 10.0, 24.0, 5e-7, []),
    ],
)
def test_deep_stall_and_moments_left_over(monkeypatch, speed, wind, angle, left, codes):
    """The angle is the strip's own, of those in the wind; a folded tip's is not the body's."""
    monkeypatch.setattr(power_warnings, "_section_warnings", lambda *_: [])
    monkeypatch.setattr(power_warnings, "_rotor_warnings", lambda *_: [])
    loads = strips(speed=(wind, 0.0, 0.0))
    loads.coupled.onset.from_wind = np.radians([[angle, 50.0, 50.0]])
    trim = SimpleNamespace(loads=loads, left_over=np.array([0.0, left]), alpha=np.radians(-9.0))
    found = list(power_warnings._point_warnings(None, SimpleNamespace(trim=trim, speed=speed)))
    assert [f.code for f in found] == codes
    if codes == ["deep_stall"]:
        assert found[0].value == pytest.approx(28.0)
    if codes == ["moment_left_over"]:
        assert found[0].value == 2e-6
    assert list(power_warnings._point_warnings(None, SimpleNamespace(trim=None))) == []


@pytest.mark.parametrize(
    ("inside", "width", "ratio"),
    [(0.5, 0.21, 1.05), (0.5, 0.19, None), (0.02, 0.21, None), (0.98, 0.21, None),
     (0.03, 0.3, 1.5), (0.97, 0.3, 1.5)],
)  # fmt: skip
def test_strips_too_wide_for_the_edge_of_a_slipstream(monkeypatch, inside, width, ratio):
    """A slipstream of 0.2 m radius; the second strip lies wholly inside."""
    monkeypatch.setattr(power_warnings, "driven_rotors", lambda craft, trim: {})
    craft = SimpleNamespace(
        rotors=[], propulsion=SimpleNamespace(braking="spent"),
        wind_points=(None, np.array([[0.0, width, 0.0], [0.0, 9.0, 0.0], [0.0, 9.0, 0.0]])),
        model=SimpleNamespace(controls=[0, 1]),
    )  # fmt: skip
    wind = SimpleNamespace(inside=[[np.array([inside, 1.0, 0.5])]], radius=[[np.full(3, 0.2)]])
    trim = SimpleNamespace(loads=SimpleNamespace(rotors=[], wind=wind))
    found = list(power_warnings._rotor_warnings(craft, SimpleNamespace(trim=trim, speed=5.0)))
    assert [f.value for f in found] == ([pytest.approx(ratio)] if ratio else [])
    trim.loads.wind = None
    assert list(power_warnings._rotor_warnings(craft, SimpleNamespace(trim=trim, speed=5.0))) == []
