"""Thickness and lift slope: the option against the exact flow about Joukowski sections.

Source: the conformal map z = w + 1 / w of a circle through w = 1, whose circulation by Kutta's
condition is 4 pi U R sin(alpha) (N. Joukowski; L. M. Milne-Thomson, Theoretical Aerodynamics, from
memory). Thickness and chord of the mapped section are measured here on its points.
"""

from typing import Any

import numpy as np
import pytest
from pydantic import ValidationError

from vlm.description.sections import Section
from vlm.sections.section_polars import section_polar

KEYS: dict[str, Any] = {"form": "parametric", "cl_max": 1.3, "cl_min": -1.1}


def joukowski(shift: float) -> tuple[float, float]:
    """Thickness over chord and exact slope of the lift at zero angle, of a shifted circle [1]."""
    around = np.linspace(0.0, 2.0 * np.pi, 200_001)
    radius = 1.0 + shift
    circle = -shift + radius * np.exp(1j * around)
    section = circle + 1.0 / circle
    chord = float(np.ptp(section.real))
    # L = rho U Gamma, cl = 2 Gamma / (U c), Gamma = 4 pi U R sin(alpha).
    return float(np.ptp(section.imag)) / chord, 8.0 * np.pi * radius / chord


@pytest.mark.parametrize("shift", [0.03, 0.06, 0.1, 0.15])
def test_slope_is_that_of_a_joukowski_section_to_first_order(shift: float) -> None:
    thickness, slope = joukowski(shift)
    found = Section(**KEYS, thickness=thickness).value("lift_slope_per_rad")
    # What is left is of the second order in the thickness; without the law it would be 0.77 t.
    assert abs(found / slope - 1.0) < 1.0 * thickness**2
    assert abs(2.0 * np.pi / slope - 1.0) > 0.6 * thickness


def test_the_polar_has_the_slope() -> None:
    curves = section_polar(Section(**KEYS, thickness=0.12), 1.9)
    plain = section_polar(Section(**KEYS), 1.9)
    step = np.radians(0.5)
    reynolds = np.array([2e5, 2e5])
    found = [np.diff(polar.at(np.array([-step, step]), reynolds).cl)[0] / (2.0 * step)
             for polar in (curves, plain)]  # fmt: skip
    assert found[0] == pytest.approx(2.0 * np.pi * (1.0 + 0.77 * 0.12), rel=2e-3)
    assert found[1] == pytest.approx(6.0, rel=2e-3)


@pytest.mark.parametrize(
    ("keys", "words"),
    [
        ({"thickness": 0.12, "lift_slope_per_rad": 6.0}, "both give the slope"),
        ({"thickness": 0.5}, "less than or equal to 0.3"),
        ({"form": "thin", "cl_max": None, "cl_min": None, "thickness": 0.1}, "does not belong"),
    ],
)
def test_refusals(keys: dict[str, Any], words: str) -> None:
    with pytest.raises(ValidationError, match=words):
        Section(**(KEYS | keys))
