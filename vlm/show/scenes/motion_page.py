"""A motion as one page for a browser that plays it: offline, on a plain canvas."""

from pathlib import Path
from typing import Any

import numpy as np

from vlm.cautions import SHORT_CAUTION
from vlm.constants import Floats
from vlm.disk import write_whole
from vlm.errors import InputRefused
from vlm.show.page import embedded_json, escaped, filled, part
from vlm.show.tables.motion import motion_table
from vlm.study.motion.results import MotionStudy

FRAMES = 50
"""Frames for each second."""
DIGITS = 5


def motion_page(study: MotionStudy) -> str:
    """The whole page as text."""
    words = (
        f"{study.scenario}; from {study.state['airspeed_m_s']:g} m/s; earth axes: x north, y east,"
        " z down"
    )
    return filled(
        part("motion.html"),
        {
            "title": escaped(study.title),
            "setting": escaped(words),
            "look": part("look.css"),
            "stage": part("stage.css"),
            "numbers": escaped(motion_table(study)),
            "caution": escaped(SHORT_CAUTION),
            "data": embedded_json(page_document(study)),
            "script": part("motion.js"),
        },
    )


def page_document(study: MotionStudy) -> dict[str, Any]:
    """What the page's script draws: flat panels by body, hinges, and frames."""
    history = study.history
    times = history["time_s"]
    even = np.arange(times[0], times[-1] + 1e-9, 1.0 / FRAMES)

    def at(name: str) -> Any:
        return np.round(np.interp(even, times, history[name]), DIGITS).tolist()

    shape = study.shape
    return {
        "rate": FRAMES,
        "time": np.round(even, DIGITS).tolist(),
        "bodies": [
            {
                "name": body.name,
                "side": body.side,
                "linkage": body.linkage,
                "point": _rounded(body.point),
                "axis": _rounded(body.axis),
                "panels": [_rounded(panel) for panel in body.panels],
            }
            for body in shape
        ],
        "folds": {"left": at("fold_left_deg"), "right": at("fold_right_deg")},
        "angles": [at("bank_deg"), at("pitch_deg"), at("heading_deg")],
        "place": [at("north_m"), at("east_m"), at("height_m")],
        "said": {
            name: at(name)
            for name in ("airspeed_m_s", "alpha_deg", "beta_deg", "bank_deg", "height_m",
                         "load_factor")
        },
        "cut_off": study.cut_off,
    }  # fmt: skip


def _rounded(values: Floats) -> Any:
    return np.round(values, DIGITS).tolist()


def save_motion_page(study: MotionStudy, path: Path) -> None:
    """Write the page.

    Raises
    ------
    InputRefused : the ending is not .html
    """
    if path.suffix != ".html":
        raise InputRefused(f"--scene {path}; the ending must be .html")
    write_whole(path, motion_page(study).encode())
