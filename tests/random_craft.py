"""Random craft, folds and flight states for checks that must hold for any of them. All invented.

Plan shapes, gaps, stagger, incidence, camber, sweep, dihedral, taper, washout and flare are drawn
at random; tips stand on the upper wing, on the lower or on both; one craft in eight is a
monoplane, one in seven has an elliptic tip, and one in eight closes a box. Folds reach 150 degrees
either way, alike or each side its own.
"""

from dataclasses import dataclass, replace

import numpy as np

from vlm.description.folds import FoldAngles
from vlm.description.models import Arrangement, Biplane, Station, Tips, Wing
from vlm.errors import InputRefused
from vlm.lattice.cellule import Grid
from vlm.lattice.lattice import build_lattice
from vlm.loads.state import FlightState

LARGEST_FOLD_DEG = 150.0
CAMBERS = ("flat", "2412", "4412", "3512", "1408")
Random = np.random.Generator


@dataclass(frozen=True)
class RandomCase:
    """A craft at one fold setting and flight state; ``kind`` says what it was drawn as."""

    seed: int
    kind: str
    craft: Biplane
    folds: FoldAngles
    state: FlightState


def random_case(seed: int) -> RandomCase:
    """The case of a number: always the same, and always one that can be built."""
    random = np.random.default_rng(seed)
    while True:
        kind = str(random.choice(["biplane", "monoplane", "box", "elliptic"], p=PORTIONS))
        craft = _craft(random, kind)
        for _ in range(8):
            folds = _folds(random, kind)
            if can_be_built(craft, folds):
                return RandomCase(seed, kind, craft, folds, random_state(random))


PORTIONS = (34 / 56, 7 / 56, 7 / 56, 8 / 56)


def _craft(random: Random, kind: str) -> Biplane:
    if kind == "box":
        return _box(random)
    upper, lower = _wing(random, 1.0), _wing(random, random.uniform(0.65, 1.0))
    bearer = random.choice(["upper", "lower", "both"], p=[0.6, 0.15, 0.25])
    if kind == "monoplane" or bearer in ("upper", "both"):
        upper = _with_tips(random, upper, elliptic=kind == "elliptic")
    if kind == "monoplane":
        return Biplane(title="A random monoplane", upper=upper)
    if bearer in ("lower", "both"):
        lower = _with_tips(random, lower, elliptic=kind == "elliptic")
        if bearer == "both" and random.random() < 0.5 and lower.tips is not None:
            lower = lower.model_copy(
                update={"tips": lower.tips.model_copy(update={"linkage": -1.0})}
            )
    arrangement = Arrangement(
        gap_m=float(random.uniform(0.12, 0.45)), stagger_m=float(random.uniform(-0.1, 0.15))
    )
    return Biplane(title="A random biplane", upper=upper, lower=lower, arrangement=arrangement)


def _wing(random: Random, span: float) -> Wing:
    chord = span * random.uniform(0.1, 0.28)
    return Wing(
        span_m=float(span * random.uniform(0.5, 0.8)),
        root_chord_m=float(chord),
        end_chord_m=float(chord * random.uniform(0.6, 1.0)),
        sweep_deg=float(random.choice([0.0, random.uniform(-8.0, 20.0)])),
        dihedral_deg=float(random.choice([0.0, random.uniform(-3.0, 5.0)])),
        incidence_deg=float(random.uniform(-1.0, 4.0)),
        washout_deg=float(random.choice([0.0, random.uniform(0.0, 3.0)])),
        camber=str(random.choice(CAMBERS)),
    )


def _with_tips(random: Random, wing: Wing, *, elliptic: bool) -> Wing:
    span = wing.fixed_span_m * random.uniform(0.15, 0.6)
    chord = wing.hinge_chord_m
    flare = float(random.choice([0.0, random.uniform(-12.0, 15.0)]))
    if elliptic:
        along = np.linspace(0.0, 0.5 * np.pi, 61)
        chords = np.maximum(chord * np.cos(along), 0.002 * chord)
        outline = tuple(
            Station(y_m=float(span * np.sin(t)), x_m=float(0.3 * (chord - c)), chord_m=float(c))
            for t, c in zip(along, chords, strict=True)
        )
        tips = Tips(stations=outline, flare_deg=flare)
    else:
        tips = Tips(
            span_m=float(span),
            end_chord_m=float(chord * random.uniform(0.4, 1.0)),
            sweep_deg=float(random.choice([0.0, random.uniform(-5.0, 25.0)])),
            washout_deg=float(random.choice([0.0, random.uniform(0.0, 3.0)])),
            flare_deg=flare,
        )
    return wing.model_copy(update={"tips": tips})


def _box(random: Random) -> Biplane:
    """A biplane whose tips reach down to the lower wing's ends."""
    gap = float(random.uniform(0.15, 0.4))
    chord = float(random.uniform(0.12, 0.25))
    shared = {"span_m": float(random.uniform(0.6, 1.0)), "end_chord_m": chord}
    upper = Wing(
        **shared,
        root_chord_m=chord,
        camber=str(random.choice(CAMBERS)),
        tips=Tips(span_m=gap, end_chord_m=chord),
    )
    lower = Wing(**shared, root_chord_m=chord, camber=str(random.choice(CAMBERS)))
    return Biplane(
        title="A random box", upper=upper, lower=lower, arrangement=Arrangement(gap_m=gap)
    )


def _folds(random: Random, kind: str) -> FoldAngles:
    largest = LARGEST_FOLD_DEG
    if kind == "box":
        one = random.uniform(-80.0, 90.0) if random.random() < 0.3 else -90.0
        return FoldAngles(-90.0, float(one))
    left, right = (float(angle) for angle in random.uniform(-largest, largest, 2))
    return FoldAngles(left, left) if random.random() < 0.5 else FoldAngles(left, right)


def random_state(random: Random) -> FlightState:
    """A state of attached flow, without sideslip or rates in many cases."""
    rates = random.uniform(-0.05, 0.05, 3) * (random.random() < 0.3)
    return FlightState(
        alpha=float(np.radians(random.uniform(-4.0, 10.0))),
        beta=float(np.radians(random.uniform(-8.0, 8.0)) * (random.random() < 0.5)),
        p_hat=float(rates[0]),
        q_hat=float(0.2 * rates[1]),
        r_hat=float(rates[2]),
    )


def can_be_built(craft: Biplane, folds: FoldAngles) -> bool:
    """Whether no surfaces cross."""
    try:
        build_lattice(craft, folds, Grid(3, 10))
    except InputRefused:
        return False
    return True


def without_sideslip(case: RandomCase) -> RandomCase:
    """The same case in a symmetric stream, without rates."""
    return replace(case, state=FlightState(alpha=case.state.alpha))
