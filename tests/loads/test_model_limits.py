"""The measured limits of the model: the closed forms behind them, and the run that prints them.

Sources: lift slope of thick Joukowski sections, 2 pi (1 + 0.77 t/c) for small t/c, from memory
(Abbott & von Doenhoff, Theory of Wing Sections, give the same form); speed beside a circle in a
stream, U (1 + a^2/h^2) across its middle (any textbook of potential flow).
"""

import sys
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parents[2] / "benchmarks"))

from model_limits import section_slope, speed_between


@pytest.mark.parametrize("thickness", [0.01, 0.02, 0.04])
def test_thick_sections_lift_more_without_friction(thickness: float) -> None:
    rise = section_slope(thickness) / (2.0 * np.pi) - 1.0
    assert rise == pytest.approx(4.0 / (3.0 * np.sqrt(3.0)) * thickness, rel=0.02)


def test_a_flat_section_is_the_lattices_own() -> None:
    assert section_slope(1e-9) == pytest.approx(2.0 * np.pi, rel=1e-8)


@pytest.mark.parametrize("height", [1.0, 2.5])
def test_speed_beside_a_circle(height: float) -> None:
    """An ellipse as thick as long is a circle of half the chord's radius."""
    assert speed_between(1.0, 1.0, height) == pytest.approx(0.25 / height**2)


@pytest.mark.slow
def test_the_study_runs(run_benchmark) -> None:
    printed = run_benchmark("model_limits.py", "--quick")
    for words in ("fold -90, alpha 4 deg", "0.01 mm", "Sections of thickness", "end chord 0.17 m"):
        assert words in printed
    assert "nan" not in printed
