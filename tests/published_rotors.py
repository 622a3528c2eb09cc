"""Figures of docs/validation.md: rotors against wind-tunnel tests."""

from pathlib import Path
from tempfile import TemporaryDirectory

import measured_rotors
import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from measured_rotors import Tested, research_propellers

COLOURS = ("#3b6ea5", "#c0562f")
SOURCE = "Deters, Ananda and Selig 2014, read in the authors' open database"


def _panels() -> tuple[Figure, list[Axes]]:
    figure = Figure(figsize=(9.0, 7.0), layout="constrained")
    return figure, list(figure.subplots(2, 2).flat)


def elements_figure() -> tuple[Figure, str]:
    """Coefficients of thrust and power over the advance ratio, measured and by blade elements."""
    figure, panels = _panels()
    with TemporaryDirectory() as folder:
        for axes, tested in zip(panels, research_propellers(), strict=True):
            _elements_panel(axes, tested, Path(folder))
    panels[0].legend(fontsize=8)
    return figure, (
        f"Rotors by blade elements: measured (crosses; {SOURCE}) and computed at the lowest and the"
        " highest speed of rotation (thin and thick), blades turned to the measured advance ratio"
        " without thrust."
    )


def _elements_panel(axes: Axes, tested: Tested, folder: Path) -> None:
    blades = measured_rotors.element_blades(tested, folder)
    ratio = np.linspace(0.0, tested.no_thrust, 40)
    ends = [(tested.turns.min(), 0.9), (tested.turns.max(), 1.8)]
    curves = [
        (measured_rotors.by_elements(tested, blades, ratio, np.full(40, turns)), width)
        for turns, width in ends
    ]
    parts = (("thrust coefficient", tested.thrust), ("power coefficient", tested.power))
    for index, (words, values) in enumerate(parts):
        axes.plot(tested.ratio, values, "x", color=COLOURS[index], ms=4, label=words)
        for found, width in curves:
            axes.plot(ratio, found[index], color=COLOURS[index], lw=width)
    axes.set(title=tested.name, xlabel="advance ratio V / (n D)", ylim=(0.0, None))
    axes.grid(alpha=0.3)


def blades_figure() -> tuple[Figure, str]:
    """Power of the form "blades" at the measured thrust over the measured power."""
    figure, panels = _panels()
    for axes, tested in zip(panels, research_propellers(), strict=True):
        rows = tested.loaded
        power, speed = measured_rotors.blades_form_power(rows)
        axes.plot(rows.ratio, power, "o", color=COLOURS[0], ms=4, mfc="none", label="power")
        axes.plot(rows.ratio, speed, ".", color=COLOURS[1], ms=5, label="speed of rotation")
        axes.axhline(1.0, color="k", lw=0.8)
        axes.set(title=tested.name, xlabel="advance ratio V / (n D)", ylim=(0.6, 1.3),
                 ylabel="computed over measured")  # fmt: skip
        axes.grid(alpha=0.3)
    panels[0].legend(fontsize=8)
    return figure, (
        'Rotors by the form "blades" with everything left out that can be: power and speed of'
        f" rotation at the measured thrust over the measured ones ({SOURCE})."
    )
