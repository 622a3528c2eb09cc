"""Whether a craft is stable, its rotors counted, against rigid-body equations written out here.

The craft is invented, with every number by the rules of ``foldspan new``. Its rotors are brought to
one speed, or one torque, at every motion by a root search; equations of a rigid craft in the plane
of symmetry (Etkin and Reid, Dynamics of Flight, chapter 4), their slopes by differences.
"""

from collections.abc import Callable

import numpy as np
import pytest
from scipy.optimize import brentq

from vlm.cli.main import main
from vlm.constants import GRAVITY, Floats
from vlm.description.folds import FoldAngles
from vlm.description.loading import load_biplane
from vlm.description.models import Biplane
from vlm.flight.craft.folding_craft import FoldingCraft
from vlm.flight.craft.level import LevelFlight, level_flight
from vlm.flight.motion.roll_authority import Air
from vlm.lattice.cellule import Grid
from vlm.power.strip_winds import blowing_rotors
from vlm.progress import silent
from vlm.study.lateral.modes import setting_modes
from vlm.study.lateral.study import LateralPlan, _Study
from vlm.verdicts import SIGN_NOT_KNOWN

GRID, DENSITY = Grid(2, 8), 1.225
KEPT = ("thrust", "speed", "torque")
FLAT = FoldAngles()


@pytest.fixture(scope="module")
def craft(tmp_path_factory: pytest.TempPathFactory) -> Biplane:
    path = tmp_path_factory.mktemp("new") / "gull.toml"
    assert main(["new", str(path), "--mass", "3.2", "--span", "1.8"]) == 0
    return load_biplane(str(path))


def thrust_at(craft: Biplane, each: float, trim: float, kept: str) -> Callable[[float], float]:
    """Thrust of one rotor against the air along its axis, as a fixed control keeps it."""
    if kept == "thrust":
        return lambda _: each
    rotors, count = blowing_rotors(craft), len(craft.rotors)

    def state(pull: float, air: float) -> float:
        wind = np.array([[air, 0.0, 0.0]])
        found = rotors.at_work(wind, np.full((1, count), pull), DENSITY)[0]
        return float(getattr(found, kept)[0])

    own = state(each, trim)
    return lambda air: float(brentq(lambda pull: state(pull, air) - own, each - 1.5, each + 1.5))


def roots(folding: FoldingCraft, flight: LevelFlight, kept: str) -> Floats:
    """Roots of u, w, q, theta about level flight, fastest first."""
    craft, folded = folding.craft, folding.at(FLAT)
    mass, inertia = folded.masses.mass, folded.masses.inertia[1, 1]
    heights = [rotor.position_m[2] - folded.masses.centre[2] for rotor in craft.rotors]
    # Two above and two below: together the thrust, and against the air's pitching moment.
    both = np.array(sorted(set(heights)))
    pair = 0.5 * np.linalg.solve([[1.0, 1.0], -both], [flight.thrust, -flight.wrench[4]])
    pulls = [
        thrust_at(craft, float(each), float(flight.motion[0]), kept)
        for each in pair[np.searchsorted(both, heights)]
    ]

    def slopes(state: Floats) -> Floats:
        u, w, q, theta = state
        motion = flight.motion.copy()
        motion[[0, 2, 4]] = u, w, q
        x, _, z, _, m, _ = folded.wrench(motion, DENSITY)
        # A rotor above the centre of gravity moves forward as the nose goes up.
        for height, pull in zip(heights, pulls, strict=True):
            thrust = pull(u - q * height)
            x += thrust
            m -= thrust * height
        return np.array(
            [
                x / mass - GRAVITY * np.sin(theta) - q * w,
                z / mass + GRAVITY * np.cos(theta) + q * u,
                m / inertia,
                q,
            ]
        )

    start = np.array([flight.motion[0], flight.motion[2], 0.0, flight.alpha])
    assert slopes(start) == pytest.approx(np.zeros(4), abs=1e-6)
    steps = np.array([0.02, 0.02, 0.002, 0.002])
    columns = [
        (slopes(start + step) - slopes(start - step)) / (2.0 * np.max(step))
        for step in np.diag(steps)
    ]
    found = np.linalg.eigvals(np.array(columns).T)
    return found[np.argsort(-np.abs(found))]


@pytest.mark.parametrize(
    ("speed", "by_thrust", "by_speed", "by_torque", "told"),
    [(11.0, 1, -1, -1, "decays"), (14.0, -1, 1, -1, SIGN_NOT_KNOWN)],
)
def test_the_slowest_motion_grows_or_not_by_what_the_rotors_hold(
    craft: Biplane, speed: float, by_thrust: int, by_speed: int, by_torque: int, told: str
) -> None:
    """A phugoid that grows at a held thrust decays with rotors that answer the air; where growth
    hangs on what they hold, its sign is not known."""
    study = _Study(craft, LateralPlan(Air(speed, DENSITY), (0.0,), grid=GRID), silent)
    flight = level_flight(study.folding.at(FLAT), speed, DENSITY)
    assert flight is not None
    slowest = {kept: roots(study.folding, flight, kept)[-1].real for kept in KEPT}
    signs = dict(zip(KEPT, (by_thrust, by_speed, by_torque), strict=True))
    assert {kept: int(np.sign(root)) for kept, root in slowest.items()} == signs
    found = setting_modes(study.crafts, FLAT, speed, DENSITY).longitudinal
    assert found is not None
    mode = max(found.modes, key=lambda one: one.real_1_s)
    assert mode.growth == told
    for kept in ("speed", "torque"):
        assert abs(slowest[kept] - mode.real_1_s) < mode.real_half_width_1_s
