"""The drive of the demo craft against the lead angle of its worm, for three drives."""

from functools import lru_cache
from typing import Any

import numpy as np
from matplotlib.figure import Figure

from vlm.description import load_biplane
from vlm.flight.craft.folding_craft import FoldingCraft
from vlm.flight.mechanism.drive_limits import fold_loads
from vlm.flight.mechanism.servo import folding
from vlm.flight.mechanism.worm import worm_states
from vlm.lattice.cellule import Grid
from vlm.show.labelling import end_labels
from vlm.show.style import COLOURS

AIRSPEED, DENSITY = 29.0, 1.225
START, END = 15.0, -90.0
LEADS = np.linspace(1.5, 5.0, 15)
DEMANDS = (0.5, 2.5)
DRIVES = (
    ("as in the file", {}),
    ("ratio 36", {"worm_ratio": 36.0}),
    ("servo 0.5 N m", {"servo_stall_torque_N_m": 0.5}),
)


@lru_cache(maxsize=1)
def results() -> tuple[Any, dict[str, Any]]:
    """Margins greased, and the share of stall torque and time of each drive: (leads, 2)."""
    craft = load_biplane("tideline")
    loads = fold_loads(FoldingCraft(craft, Grid(6, 14)), craft.actuator, AIRSPEED, DENSITY,
                       START, END)  # fmt: skip
    assert loads is not None
    (load,) = loads  # the demo craft has one tip a side
    margins = np.empty(len(LEADS))
    found = {name: np.empty((2, len(LEADS), 2)) for name, _ in DRIVES}
    for i, lead in enumerate(LEADS):
        for name, changes in DRIVES:
            drive = craft.actuator.model_copy(update={"lead_angle_deg": float(lead), **changes})
            margins[i] = worm_states(drive)["greased"].margin
            for j, friction in enumerate(drive.friction_greased):
                done = folding(
                    drive, *np.radians([START, END]), load.moment, friction, load.resistance
                )
                share = done.peak_torque / drive.servo_stall_torque_N_m
                found[name][:, i, j] = share, done.time
    return margins, found


def drawn() -> Figure:
    """The figure."""
    margins, found = results()
    figure = Figure(figsize=(11.0, 4.2), layout="constrained")
    locking, torque, time = figure.subplots(1, 3)
    locking.plot(LEADS, margins, color=COLOURS[6])
    _demand(locking, 1.5, "asked for: 1.5")
    _demand(locking, 1.0, "locks from here up")
    locking.set_ylabel("least friction over the friction that locks")
    locking.set_title("self-locking, greased", loc="left")
    for axes, place in ((torque, 0), (time, 1)):
        lines = []
        for colour, (name, _) in zip(COLOURS, DRIVES, strict=False):
            low, high = found[name][place].T
            axes.fill_between(LEADS, low, high, color=colour, alpha=0.2, lw=0)
            (line,) = axes.plot(LEADS, high, color=colour)
            lines.append((line, name))
        highest = max(one[place].max() for one in found.values())
        axes.set_ylim(0.0, 1.1 * max(highest, DEMANDS[place]))
        end_labels(axes, lines)
    _demand(torque, DEMANDS[0], "at most 0.5")
    torque.set_ylabel("highest torque over stall torque")
    torque.set_title("servo, 15 to -90 degrees", loc="left")
    _demand(time, DEMANDS[1], "at most 2.5 s")
    time.set_ylabel("time [s]")
    time.set_title("time, 15 to -90 degrees", loc="left")
    for axes in (locking, torque, time):
        axes.set_xlabel("lead angle of the worm [deg]")
    return figure


def _demand(axes: Any, value: float, words: str) -> None:
    axes.axhline(value, color="k", lw=0.9, ls="--")
    axes.annotate(words, (0.98, value), xycoords=("axes fraction", "data"), xytext=(0, 2),
                  textcoords="offset points", ha="right", fontsize=8)  # fmt: skip
