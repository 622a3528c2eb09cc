"""Histories of what a flyer would ask of a run: attitude, air, loads on hinge, worm and servo."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from vlm.constants import GRAVITY, Floats
from vlm.flight.simulation.attitude import continued_angles
from vlm.flight.simulation.bodies import FIRST_SIDE, SIDES, hinge_inertia_moment
from vlm.flight.simulation.equations import Instant
from vlm.flight.simulation.plant import Plant, layout_of
from vlm.flight.simulation.running import Run
from vlm.sides import Side

MOVING = 0.002
"""A worm counts as moving above this share of its speed without load [1]."""


@dataclass(frozen=True)
class History:
    """Values at the times of a run, shape (n,) each unless said; sides and tips by name.

    Attributes
    ----------
    times : [s]
    bank, pitch, heading : without jumps, so that pitch passes a right angle in a loop [rad]
    alpha, beta : angle of attack and sideslip [rad]
    airspeed : [m/s]
    rates : body rates, shape (n, 3) [rad/s]
    north, east, height : of the centre of gravity, from the start [m]
    load_factor : of the forces along the body's -z axis [1]
    folds, fold_rates : by side [rad], [rad/s]
    worms, targets : by side, where the worm stands and is commanded to, play and load of the
        start taken off [rad]
    hinges : by tip, moment that gear and stop give to it about its hinge, positive raising [N m]
    servo_torques : by side, of one servo, against the worm [N m]
    worm_torques : by side, what one servo must give to keep the worm turning, the most of any;
        zero at rest [N m]
    currents : by side [A]
    thrusts, asked : shape (n, rotors), thrust that acts, and what the law asks for [N]
    stall_margin : in the strip nearest to stall; infinite without sections [rad]
    stalled : share of the wings' area past stall [1]
    """

    times: Floats
    bank: Floats
    pitch: Floats
    heading: Floats
    alpha: Floats
    beta: Floats
    airspeed: Floats
    rates: Floats
    north: Floats
    east: Floats
    height: Floats
    load_factor: Floats
    folds: dict[Side, Floats]
    fold_rates: dict[Side, Floats]
    worms: dict[Side, Floats]
    targets: dict[Side, Floats]
    hinges: dict[str, Floats]
    servo_torques: dict[Side, Floats]
    worm_torques: dict[Side, Floats]
    currents: dict[Side, Floats]
    thrusts: Floats
    asked: Floats
    stall_margin: Floats
    stalled: Floats


def history_of(plant: Plant, run: Run) -> History:
    """The histories of a run."""
    layout, states, instants = layout_of(plant), run.states, run.instants
    angles = continued_angles(np.array([one.turn for one in instants]))
    places = np.array(
        [
            state[layout.place] + one.turn @ plant.bodies.centre(one.parts)
            for state, one in zip(states, instants, strict=True)
        ]
    )
    places = places - places[0]
    off = states[0, layout.worms] - states[0, layout.folds]
    torques = np.array([one.torques for one in instants])
    targets = np.array([one.targets for one in instants])
    hinges = _hinges(plant, run)
    return History(
        times=run.times,
        bank=angles[:, 0],
        pitch=angles[:, 1],
        heading=angles[:, 2],
        alpha=np.array([one.air.alpha for one in instants]),
        beta=np.array([one.air.beta for one in instants]),
        airspeed=np.array([one.air.speed for one in instants]),
        rates=states[:, 3:6],
        north=places[:, 0],
        east=places[:, 1],
        height=-places[:, 2],
        load_factor=np.array([-one.force[2] for one in instants]) / (plant.bodies.mass * GRAVITY),
        folds=_by_side(states[:, layout.folds]),
        fold_rates=_by_side(states[:, FIRST_SIDE : FIRST_SIDE + 2]),
        worms=_by_side(states[:, layout.worms] - off),
        targets=_by_side(targets - off),
        hinges=hinges,
        servo_torques=_by_side(torques),
        worm_torques=_by_side(_worm_torques(plant, run, hinges)),
        currents=_by_side(_currents(plant, torques)),
        thrusts=np.array([one.thrusts for one in instants]),
        asked=np.array([one.asked for one in instants]),
        stall_margin=np.array([one.air.margin for one in instants]),
        stalled=np.array([one.air.stalled for one in instants]),
    )


def _by_side(values: Floats) -> dict[Side, Floats]:
    return {side: np.asarray(values[:, i]) for i, side in enumerate(SIDES)}


def _hinges(plant: Plant, run: Run) -> dict[str, Floats]:
    """Moment about each hinge that the tip's motion asks for beyond air and weight [N m]."""
    found: dict[str, list[float]] = {tip.body: [] for tip in plant.bodies.tips}
    for state, one in zip(run.states, run.instants, strict=True):
        for body, moment in carried_moments(plant, state[: FIRST_SIDE + 2], one).items():
            found[body].append(moment)
    return {body: np.array(values) for body, values in found.items()}


def carried_moments(plant: Plant, speeds: Floats, one: Instant) -> dict[str, float]:
    """What gear and stop give to each tip at an instant [N m]."""
    gravity = one.turn.T @ plant.gravity
    found = {}
    for i, part in enumerate(one.parts[1:]):
        assert part.tip is not None
        row = part.moving[:, FIRST_SIDE + part.tip.side] / part.tip.linkage
        weight = part.mass * float(row @ gravity)
        needed = hinge_inertia_moment(part, speeds, one.changes)
        found[part.tip.body] = needed - weight - float(one.acting[6 + i])
    return found


def _worm_torques(plant: Plant, run: Run, hinges: Mapping[str, Floats]) -> Floats:
    """Of the servo with most to give, where every tip has its own, shape (times, 2) [N m]."""
    found = np.zeros((len(run.times), 2))
    if plant.drives is None:
        return found
    servos = run.states[:, layout_of(plant).servos]
    for side, drive in enumerate(plant.drives):
        tips = [tip for tip in plant.bodies.tips if tip.side == side]
        for n, one in enumerate(run.instants):
            speed, moments = float(servos[n, side]), [float(one.gear[side])]
            if drive.servos > 1 and moments[0] != 0.0:
                moments = [drive.servos * tip.linkage * float(hinges[tip.body][n]) for tip in tips]
            if abs(speed) > MOVING * drive.free_speed:
                sense = float(np.sign(speed))
                found[n, side] = max(sense * drive.worm_load(one, speed) for one in moments)
    return found


def _currents(plant: Plant, torques: Floats) -> Floats:
    if plant.drives is None:
        return np.zeros_like(torques)
    return np.array(
        [[drive.current(float(t)) for drive, t in zip(plant.drives, row, strict=True)]
         for row in torques]
    )  # fmt: skip
