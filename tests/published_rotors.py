"""Figures of docs/curves.md: rotors, and a section past stall, against wind-tunnel tests."""

from pathlib import Path
from tempfile import TemporaryDirectory

import measured_rotors
import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from measured_rotors import DATA, Tested, research_propellers

from vlm.description.sections import Section
from vlm.sections.post_stall import normal_force_of
from vlm.sections.section_polars import section_polar
from vlm.show.style import COLOURS

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
        " without thrust. Tried on rows that did not choose it: with the section's numbers chosen"
        " on three propellers, the fourth is met within 4.8 % of thrust and 5.8 % of power in the"
        " median over all four and 20 % at worst, 23 of 240 rows beyond 15 % (with those of all"
        " four: 3.8, 4.0 and 18 %, one row); the small propeller, left out, has 11 % of power in"
        " the median."
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
        panels[0].legend(fontsize=8)
    return figure, (
        'Rotors by the form "blades" with everything left out that can be: power and speed of'
        f" rotation at the measured thrust over the measured ones ({SOURCE})."
    )


def past_stall_figure() -> tuple[Figure, str]:
    """Lift and drag of a section to 90 degrees, measured and ours, and of wings of aspect ratio."""
    file = DATA / "sheldahl-klimas-1981-naca-0012.csv"
    lines = [line for line in file.read_text(encoding="utf-8").splitlines() if line[0] not in "#a"]
    measured = np.array([[float(v) for v in line.split(",")] for line in lines])
    section = Section(
        form="parametric", cl_max=1.2169, cl_min=-1.2169, lift_slope_per_rad=6.3,
        cd_least=0.0064, cd_rise=0.006,
    )  # fmt: skip
    figure = Figure(figsize=(9.0, 4.2), layout="constrained")
    left, right = figure.subplots(1, 2)
    alpha = np.linspace(0.0, 90.0, 181)
    for axes, column, words in ((left, 1, "lift"), (right, 2, "drag")):
        axes.plot(measured[:, 0], measured[:, column], "x", color="k", ms=4, label="measured")
        for ratio, dash in ((1e6, "-"), (20.0, "--"), (9.0, "-."), (5.0, ":")):
            polar = section_polar(section, normal_force_of(ratio))
            found = polar.at(np.radians(alpha), np.full(len(alpha), 2e6))
            label = "section" if ratio > 1e3 else f"wing of aspect ratio {ratio:g}"
            axes.plot(alpha, found.cl if column == 1 else found.cd, dash, color=COLOURS[0],
                      label=label)  # fmt: skip
        axes.set(xlabel="angle of attack [deg]", ylabel=f"{words} coefficient")
        left.legend(fontsize=8)
    return figure, (
        "Past stall: the measured NACA 0012 (Sheldahl and Klimas 1981, read in a public copy), our"
        " parametric section of the same maximum lift, and that section in stalled wings of finite"
        " aspect ratio, for which nothing was measured here."
    )
