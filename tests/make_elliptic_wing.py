"""Writes geometries/ellipse.toml: a flat elliptic wing as a list of stations.

Run it as ``python tests/make_elliptic_wing.py > geometries/ellipse.toml``.
tests/description/test_description_shipped.py checks that the shipped file is what this writes.
"""

from math import cos, pi, sin

SPAN = 1.2
ASPECT_RATIO = 6.0
STEPS = 96
# A station needs a chord: the very end is cut off at this share of the root chord.
END_CHORD = 1e-3

HEAD = """\
# An invented wing for checks: a flat elliptic monoplane of aspect ratio 6 with a straight mid-chord
# line, written by tests/make_elliptic_wing.py. Stations are y = (b/2) sin t in equal steps of t.
# The chord at the very end is a thousandth of the root chord, as a station needs one.
title = "Ellipse, a flat elliptic wing of aspect ratio 6"

[upper]
stations = ["""


def stations() -> list[tuple[float, float, float]]:
    """y, leading edge x from the root's, chord [m]; the chord follows c0 sqrt(1 - (2 y / b)^2)."""
    root = 4.0 * SPAN / (pi * ASPECT_RATIO)
    places = [0.5 * pi * step / STEPS for step in range(STEPS + 1)]
    chords = [root * max(cos(place), END_CHORD) for place in places]
    return [
        (0.5 * SPAN * sin(place), 0.5 * (root - chord), chord)
        for place, chord in zip(places, chords, strict=True)
    ]


def toml_text() -> str:
    """The geometry file."""
    rows = [f"  {{ y_m = {y:.9f}, x_m = {x:.9f}, chord_m = {c:.9f} }}," for y, x, c in stations()]
    return "\n".join([HEAD, *rows, "]", ""])


if __name__ == "__main__":
    print(toml_text(), end="")
