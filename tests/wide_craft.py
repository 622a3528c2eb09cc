"""Random craft of a wider range than ``random_craft``, for error estimates. All invented.

Sweep of -20 to 40 degrees that changes at the hinge, taper, twist, camber, flare up to 30 degrees,
dihedral, tips on either wing or on both, folds up to 110 degrees either way, boxes of matched and
of unmatched ends, and slits of 0.001 to 0.1 chords beside them.
"""

import numpy as np
from random_craft import CAMBERS, Random, RandomCase, can_be_built, random_state

from vlm.description.folds import FoldAngles
from vlm.description.models import Arrangement, Biplane, Tips, Wing

LARGEST_FOLD_DEG = 110.0
KINDS = {"biplane": 0.55, "monoplane": 0.15, "box": 0.1, "unmatched": 0.1, "slit": 0.1}


def wide_case(seed: int) -> RandomCase:
    """The case of a number: always the same, and always one that can be built."""
    random = np.random.default_rng(seed)
    while True:
        kind = str(random.choice(list(KINDS), p=list(KINDS.values())))
        craft = _craft(random, kind)
        for _ in range(8):
            folds = _folds(random, kind)
            if can_be_built(craft, folds):
                return RandomCase(seed, kind, craft, folds, random_state(random))


def _some(random: Random, low: float, high: float, share: float = 0.5) -> float:
    """A number of a range, or zero."""
    return float(random.uniform(low, high)) if random.random() < share else 0.0


def _craft(random: Random, kind: str) -> Biplane:
    if kind in ("box", "unmatched", "slit"):
        return _box(random, kind)
    bearer = str(random.choice(["upper", "lower", "both"], p=[0.6, 0.15, 0.25]))
    upper, lower = _wing(random, 1.0), _wing(random, random.uniform(0.65, 1.0))
    if kind == "monoplane" or bearer != "lower":
        upper = _with_tips(random, upper)
    if kind == "monoplane":
        return Biplane(title="A random monoplane", upper=upper)
    if bearer != "upper":
        lower = _with_tips(random, lower)
    place = Arrangement(
        gap_m=float(random.uniform(0.15, 0.45)), stagger_m=float(random.uniform(-0.1, 0.15))
    )
    return Biplane(title="A random biplane", upper=upper, lower=lower, arrangement=place)


def _wing(random: Random, span: float) -> Wing:
    chord = span * random.uniform(0.1, 0.28)
    return Wing(
        span_m=float(span * random.uniform(0.5, 0.8)),
        root_chord_m=float(chord),
        end_chord_m=float(chord * random.uniform(0.6, 1.0)),
        sweep_deg=_some(random, -20.0, 40.0),
        dihedral_deg=_some(random, -4.0, 6.0),
        incidence_deg=float(random.uniform(-1.0, 4.0)),
        washout_deg=_some(random, 0.0, 4.0),
        camber=str(random.choice(CAMBERS)),
    )


def _with_tips(random: Random, wing: Wing) -> Wing:
    chord = wing.hinge_chord_m
    tips = Tips(
        span_m=float(wing.fixed_span_m * random.uniform(0.15, 0.6)),
        end_chord_m=float(chord * random.uniform(0.4, 1.0)),
        sweep_deg=_some(random, -20.0, 40.0),
        washout_deg=_some(random, 0.0, 4.0),
        flare_deg=_some(random, -20.0, 30.0),
    )
    return wing.model_copy(update={"tips": tips})


def _box(random: Random, kind: str) -> Biplane:
    gap, chord = float(random.uniform(0.15, 0.4)), float(random.uniform(0.12, 0.25))
    slit = float(chord * 10.0 ** random.uniform(-3.0, -1.0)) if kind == "slit" else 0.0
    end = chord * float(random.uniform(0.5, 0.9)) if kind == "unmatched" else chord
    shared = {"span_m": float(random.uniform(0.6, 1.0)), "end_chord_m": chord}
    upper = Wing(
        **shared,
        root_chord_m=chord,
        camber=str(random.choice(CAMBERS)),
        tips=Tips(span_m=gap, end_chord_m=end),
    )
    lower = Wing(**shared, root_chord_m=chord, camber=str(random.choice(CAMBERS)))
    place = Arrangement(gap_m=gap + slit)
    return Biplane(title="A random box", upper=upper, lower=lower, arrangement=place)


def _folds(random: Random, kind: str) -> FoldAngles:
    if kind in ("box", "unmatched", "slit"):
        return FoldAngles(-90.0, -90.0)
    left, right = (float(a) for a in random.uniform(-LARGEST_FOLD_DEG, LARGEST_FOLD_DEG, 2))
    return FoldAngles(left, left) if random.random() < 0.5 else FoldAngles(left, right)
