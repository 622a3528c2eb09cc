"""Forces of rotors across their axes, against blade elements summed here round the disc.

Blade elements and momentum, any text on propellers. That a propeller in yaw acts like a fin of its
blades' side area: H. S. Ribner, NACA Reports 819 and 820, 1945 (from memory). Research propellers:
R. W. Deters, G. K. Ananda, M. S. Selig, AIAA 2014-2151 (tests/published/data/deters-2014-*.csv).
"""

from pathlib import Path

import measured_rotors
import numpy as np
import pytest
from measured_rotors import PLAIN, research_propellers

from vlm.constants import Floats
from vlm.description.loading import load_biplane
from vlm.description.power import Rotor
from vlm.power.momentum import disc_flow
from vlm.power.rotor import disc_area, rotor_model
from vlm.power.side_force import ROOT, SPREAD, side_force_slope

DENSITY, ACROSS = 1.225, 0.05
AZIMUTH = np.linspace(0.0, 2.0 * np.pi, 72, endpoint=False)[:, None]
PART = (np.arange(600) + 0.5) / 600
SHARE = (ROOT + (1.0 - ROOT) * PART)[None, :]


def force_round_the_disc(rotor: Rotor, speed: float, state: object, *, gives_way: bool) -> float:
    """Force against a motion across the axis, over its speed, of blades at all azimuths [N s/m].

    A blade at psi stands along (cos psi, sin psi), and turns to growing psi; the disc moves along
    x, so that the air comes along -x. Where the air gives way, each piece of the disc takes up its
    own thrust: dT = 2 rho (V + v) v dA.
    """
    assert rotor.solidity is not None
    assert rotor.pitch_m is not None
    slope, radius = rotor.value("blade_lift_slope_per_rad"), rotor.radius_m
    tip = float(state.speed[0]) * radius  # type: ignore[attr-defined]
    area, thrust = disc_area(rotor), float(state.flow.thrust[0])  # type: ignore[attr-defined]
    mean_lift = 6.0 * thrust / (DENSITY * area * rotor.solidity * tip**2)
    drag = rotor.value("blade_drag") + rotor.value("blade_drag_rise") * mean_lift**4
    theta = np.arctan(rotor.pitch_m / (2.0 * np.pi * SHARE * radius))
    chord = rotor.solidity * np.pi * radius  # of all blades together
    # The air past a blade: against its turning, outward along it.
    ahead = tip * SHARE - ACROSS * np.sin(AZIMUTH)
    outward = -ACROSS * np.cos(AZIMUTH)

    def forces(through: Floats) -> tuple[Floats, Floats, Floats]:
        """Along the axis, against the turning and outward, on a length of blade [N/m]."""
        fast = np.hypot(ahead, through)
        lift = slope * (theta - np.arctan2(through, ahead))
        half = 0.5 * DENSITY * chord * fast
        return (
            half * (lift * ahead - drag * through),
            half * (lift * through + drag * ahead),
            half * drag * outward,
        )

    uniform = float(state.flow.axial[0] + state.flow.induced[0])  # type: ignore[attr-defined]
    through = np.full((len(AZIMUTH), SHARE.shape[1]), uniform)
    if gives_way:
        low, high = np.full_like(through, 0.5 * speed), np.full_like(through, speed + 10.0)
        for _ in range(50):
            through = 0.5 * (low + high)
            taken = 4.0 * np.pi * SHARE * radius * DENSITY * through * (through - speed)
            enough = taken > forces(through)[0]
            low, high = np.where(enough, low, through), np.where(enough, through, high)
    _, against, outer = forces(through)
    # Against the turning is along (sin psi, -cos psi).
    along = against * np.sin(AZIMUTH) + outer * np.cos(AZIMUTH)
    width = (1.0 - ROOT) * radius / SHARE.shape[1]
    return -float(np.sum(along.mean(axis=0)) * width) / ACROSS


def at_work(rotor: Rotor, speed: float, thrust: float, folder: Path | None = None) -> tuple:  # type: ignore[type-arg]
    model = rotor_model(rotor, folder)
    flow = disc_flow(np.array([thrust]), np.array([speed]), 0.0, DENSITY, disc_area(rotor))
    return model, model.state(flow, DENSITY)


@pytest.mark.parametrize(("speed", "thrust"), [(8.0, 1.4), (13.0, 0.4), (20.0, 0.6), (13.0, 0.0)])
def test_the_force_is_that_of_blades_round_the_disc(speed: float, thrust: float) -> None:
    """To the last digits in the wind the formula has; a little less where the air gives way, within
    the half-width."""
    rotor = load_biplane("tideline").rotors[0]
    model, state = at_work(rotor, speed, thrust)
    found = side_force_slope(model, state, DENSITY)
    stiff = force_round_the_disc(rotor, speed, state, gives_way=False)
    assert found == pytest.approx(stiff, rel=1e-4)
    soft = force_round_the_disc(rotor, speed, state, gives_way=True)
    assert (1.0 - SPREAD) * found < soft < 0.95 * found


def test_fast_the_blades_are_a_fin_of_their_side_area() -> None:
    """With no thrust and no drag s = rho a / 4 * B c * int w^2 / W dr: lift slope times dynamic
    pressure at each radius on the blades' side, half of them showing it (Ribner)."""
    plain = load_biplane("tideline").rotors[0]
    rotor = plain.model_copy(update={"blade_drag": 0.0, "blade_drag_rise": 0.0})
    assert rotor.solidity is not None
    model, state = at_work(rotor, 15.0, 0.0)
    tip, radius = float(state.speed[0]) * rotor.radius_m, rotor.radius_m
    # int dr / sqrt(tip^2 x^2 + V^2) in closed form.
    length = radius / tip * (np.arcsinh(tip / 15.0) - np.arcsinh(ROOT * tip / 15.0))
    chords = rotor.solidity * np.pi * radius
    fin = 0.25 * DENSITY * 5.7 * chords * 15.0**2 * length
    assert side_force_slope(model, state, DENSITY) == pytest.approx(fin, rel=1e-6)


@pytest.mark.parametrize("tested", research_propellers(), ids=lambda one: one.name)
@pytest.mark.parametrize("share", [0.5, 0.7, 0.85])
def test_all_three_forms_agree_within_the_half_width(
    tested: measured_rotors.Tested, share: float, tmp_path: Path
) -> None:
    """Solidity and pitch, and coefficients as measured, against the elements of measured blades."""
    measured_rotors.element_blades(tested, tmp_path)
    radius, ratio = 0.5 * tested.diameter, tested.no_thrust
    elements = Rotor(
        **PLAIN, radius_m=radius, form="elements", blade_table=f"{tested.name}.csv",
        no_thrust_advance_ratio=ratio,
    )  # type: ignore[arg-type]  # fmt: skip
    most = tested.turns[tested.ratio > 0.3].max()
    rows = np.flatnonzero((tested.turns == most) & (tested.ratio > 0.0))
    order = rows[np.argsort(tested.ratio[rows])]
    lines = [f"{tested.ratio[i]:.4f},{tested.thrust[i]:.5f},{tested.power[i]:.5f}" for i in order]
    still = f"0,{tested.thrust[order[0]] + 0.02:.5f},{tested.power[order[0]]:.5f}"
    head = "advance_ratio,thrust_coefficient,power_coefficient"
    (tmp_path / "rotor.csv").write_text("\n".join([head, still, *lines]) + "\n")
    table = Rotor(**PLAIN, radius_m=radius, form="table", table="rotor.csv")  # type: ignore[arg-type]
    blades = measured_rotors.blades_form(tested).model_copy(
        update={"pitch_m": ratio * tested.diameter}
    )
    speed = share * ratio * most * tested.diameter
    coefficient = np.interp(share * ratio, tested.ratio[order], tested.thrust[order])
    thrust = float(coefficient) * DENSITY * most**2 * tested.diameter**4
    by_elements = side_force_slope(*at_work(elements, speed, thrust, tmp_path), DENSITY)
    by_blades = side_force_slope(*at_work(blades, speed, thrust), DENSITY)
    model, state = at_work(table, speed, thrust, tmp_path)
    by_table = side_force_slope(model, state, DENSITY)
    assert by_blades == pytest.approx(by_elements, rel=0.26)
    assert by_table == pytest.approx(by_elements, rel=SPREAD)
