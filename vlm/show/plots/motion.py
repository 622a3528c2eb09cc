"""Picture of a motion: folds, attitude, path, air, loads on hinge and worm, thrust."""

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from vlm.constants import Floats
from vlm.show.labelling import end_labels, headline
from vlm.show.saving import save_figure
from vlm.show.style import COLOURS, DASHES, plot_style
from vlm.show.tables.motion import motion_answer

if TYPE_CHECKING:
    from vlm.study.motion.results import MotionStudy

Curves = Sequence[tuple[str, str]]


def panel(axes: Any, study: "MotionStudy", curves: Curves, unit: str, title: str) -> Any:
    """Some histories against time with the bands of their ±; returns the axes."""
    time, lines = study.history["time_s"], []
    shown: list[Floats] = []
    reach: list[Floats] = []
    for i, (name, words) in enumerate(curves):
        values = np.asarray(study.history[name], dtype=float)
        if not np.isfinite(values).any():
            continue
        (line,) = axes.plot(time, values, ls=DASHES[i % 4], color=COLOURS[i % len(COLOURS)])
        width = study.widths.get(name)
        if width is not None:
            axes.fill_between(time, values - width, values + width, color=line.get_color(),
                              alpha=0.2, lw=0)  # fmt: skip
            reach += [values - width, values + width]
        shown.append(values)
        lines.append((line, words))
    if reach:
        axes.set_ylim(*_limits(np.concatenate(shown), np.concatenate(reach)))
    axes.axhline(0.0, color="k", lw=0.5)
    until = study.known_until_s
    for instant in {time[-1] if study.cut_off else None, until} - {None}:
        axes.axvline(instant, color="k", lw=0.8, ls=":")
    axes.set_xlabel("time [s]")
    axes.set_ylabel(unit)
    axes.set_title(title, loc="left")
    end_labels(axes, lines)
    return axes


def _limits(values: Floats, bands: Floats) -> tuple[float, float]:
    """Ends of an axis that holds all curves; bands only as far again as these go.

    Where flights part, a band grows without end and would make all else a level line.
    """
    known = values[np.isfinite(values)]
    low, high = min(0.0, float(known.min())), max(0.0, float(known.max()))
    room = max(high - low, 1e-6)
    ends = bands[np.isfinite(bands)]
    lowest = max(low - room, float(ends.min(initial=low)))
    highest = min(high + room, float(ends.max(initial=high)))
    edge = 0.05 * (highest - lowest)
    return lowest - edge, highest + edge


def _bands(study: "MotionStudy") -> str:
    """What the bands are, in a sentence."""
    if not study.widths:
        return "No ± is worked out."
    said = (
        "Bands: ±, none at the start for what is given there (airspeed, place, heading); angle of"
        " attack, thrusts and moments of steady flight are worked out and have one"
    )
    until = study.known_until_s
    return said + (
        "." if until is None else f". At {until:.2f} s a flight is cut off: no ± beyond."
    )


def _sided(body: str) -> str:
    return body.replace("left", "port").replace("right", "starboard").replace("_", " ")


def save_motion_picture(study: "MotionStudy", path: Path) -> None:
    """Six panels of histories."""
    names = list(study.history)
    hinges = [(n, _sided(n.removeprefix("hinge_").removesuffix("_N_m")))
              for n in names if n.startswith("hinge_")]  # fmt: skip
    thrusts = [(n, n.removeprefix("thrust_").removesuffix("_N").replace("_", " "))
               for n in names if n.startswith("thrust_")]  # fmt: skip
    with plot_style() as plt:
        figure, grid = plt.subplots(2, 3, figsize=(15.5, 8.5), layout="constrained")
        panel(grid[0, 0], study, (("fold_left_deg", "port"), ("fold_right_deg", "starboard"),
              ("commanded_left_deg", "command, port"),
              ("commanded_right_deg", "command, starboard")),
              "fold [deg], positive raises the tip", "folds")  # fmt: skip
        panel(grid[0, 1], study, (("bank_deg", "bank, starboard down"),
              ("pitch_deg", "pitch, nose up"), ("heading_deg", "heading, to starboard")),
              "attitude [deg]", "attitude, from the start's heading")  # fmt: skip
        panel(grid[0, 2], study, (("alpha_deg", "angle of attack"), ("beta_deg", "sideslip"),
              ("stall_margin_deg", "left to stall")), "angles of the air [deg]",
              "air; sideslip positive with wind from starboard")  # fmt: skip
        panel(grid[1, 0], study, (("height_m", "height"), ("east_m", "to starboard")),
              "way from the start [m]", "path of the centre of gravity")  # fmt: skip
        panel(grid[1, 1], study, hinges, "moment [N m], positive raises the tip",
              "gear's moment on the tips")  # fmt: skip
        panel(grid[1, 2], study, thrusts, "thrust [N], positive ahead", "thrust of each rotor")
        speed = study.state["airspeed_m_s"]
        about = f"{study.title}, {study.scenario}, from {speed:g} m/s"
        headline(figure, [*motion_answer(study), _bands(study)], about, 190)
        save_figure(figure, path)
