"""Pictures of a study of rolling by folding: maps, command curves, authority, bank."""

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np

from vlm.show.style import COLOURS, DASHES, plot_style
from vlm.show.sweep_plots import contour_map

Document = Mapping[str, Any]


def _array(rows: Any) -> Any:
    return np.array([[np.nan if v is None else v for v in row] for row in rows], dtype=float)


def moment_map(axes: Any, document: Document, key: str, title: str) -> Any:
    """A field over port (across) and starboard (up) folds; returns the axes."""
    grid = document["map"]
    values = _array(grid[key])
    left, right = np.array(grid["left_deg"]), np.array(grid["right_deg"])
    filled = contour_map(axes, left, right, values.T, signed=True)
    axes.set_title(title, loc="left")
    if filled is not None:
        axes.figure.colorbar(filled, ax=axes, fraction=0.046, pad=0.03)
    return axes


def pairs_on_map(axes: Any, document: Document) -> Any:
    """The line without lift change, and the pairs found; returns the axes."""
    grid = document["map"]
    change = _array(grid["lift_change_N"])
    if np.nanmin(change) < 0.0 < np.nanmax(change):
        axes.contour(
            grid["left_deg"], grid["right_deg"], change.T, [0.0], colors=COLOURS[2], linewidths=1.8
        )
    for pairs, marker, colour, name in (
        (document["pure_roll_pairs"], "o", COLOURS[2], "no lift change"),
        (document["least_yaw_pairs"], "s", COLOURS[3], "least yaw"),
    ):
        if pairs:
            axes.plot(
                [p["left_deg"] for p in pairs], [p["right_deg"] for p in pairs], marker,
                color=colour, markeredgecolor="k", markersize=5, label=name,
            )  # fmt: skip
    base = document["state"]["base_fold_deg"]
    axes.plot(base, base, "*", color="k", markersize=8, label="base")
    axes.legend(fontsize=7, loc="upper right", frameon=True, framealpha=0.8)
    return axes


def command_curves(axes: Any, document: Document) -> Any:
    """Rolling moment against the size of a command; returns the axes."""
    for i, command in enumerate(document["commands"]):
        moments = [np.nan if v is None else v for v in command["rolling_moment_N_m"]]
        axes.plot(
            command["command_deg"], moments, linestyle=DASHES[i], color=COLOURS[i],
            label=command["name"],
        )  # fmt: skip
        slope = command["slope_N_m_deg"]
        if slope is not None:
            reach = np.array([-15.0, 15.0])
            axes.plot(reach, slope * reach, color=COLOURS[i], lw=0.7)
    axes.axhline(0.0, color="k", lw=0.7)
    axes.set_xlabel("command [deg], raises the named tip (port, of both)")
    axes.set_ylabel("rolling moment [N m], starboard down")
    axes.set_title("commands from the base, lift held; thin: tangents")
    axes.legend(fontsize=7)
    return axes


def authority_curves(axes: Any, document: Document) -> Any:
    """Rolling moment against airspeed, tips and rotors; returns the axes."""
    rows = [row for row in document["airspeeds"] if "reason" not in row]
    names = {
        "strongest": "strongest pair",
        "both_apart_20_deg": "both tips apart by 20 deg",
        "port_down_20_deg": "port tip lowered by 20 deg",
    }
    for i, (key, name) in enumerate(names.items()):
        known = [(r["airspeed_m_s"], abs(r[key]["rolling_moment_N_m"])) for r in rows if r[key]]
        if known:
            axes.plot(*zip(*known, strict=True), ls=DASHES[i], color=COLOURS[i], label=name)
    contest = (document.get("rotors") or {}).get("airspeeds", [])
    for key, dash, name in (
        ("tips_N_m", ":", "strongest pair, full trim, body angle held"),
        ("rotors_N_m", "-.", "rotors' reaction torque"),
    ):
        places = [(r["airspeed_m_s"], abs(r[key])) for r in contest if r[key] is not None]
        if places:
            axes.plot(*zip(*places, strict=True), color="k", ls=dash, label=name)
    axes.set_ylim(bottom=0.0)
    axes.set_xlabel("airspeed [m/s]")
    axes.set_ylabel("size of the rolling moment [N m]")
    axes.set_title("authority against airspeed, lift held")
    axes.legend(fontsize=7)
    return axes


def bank_histories(axes: Any, document: Document) -> Any:
    """Bank against time; returns the axes."""
    history = document["bank_history"]
    if "reason" in history:
        axes.text(0.5, 0.5, f"no bank history:\n{history['reason']}", ha="center", va="center",
                  transform=axes.transAxes, fontsize=8, wrap=True)  # fmt: skip
        return axes
    for i, one in enumerate(history["histories"]):
        axes.plot(one["time_s"], one["bank_deg"], ls=DASHES[i], color=COLOURS[i], label=one["name"])
    for bank in (30.0, 45.0, 60.0):
        axes.axhline(bank if _to_starboard(history) else -bank, color="k", lw=0.4, ls=":")
    axes.axvline(history["folding_time_s"], color="k", lw=0.7)
    axes.annotate(
        "tips stand", (history["folding_time_s"], 0.02), xycoords=("data", "axes fraction"),
        fontsize=7, xytext=(3, 0), textcoords="offset points",
    )  # fmt: skip
    limit = max(75.0, min(200.0, max(abs(v) for v in history["histories"][0]["bank_deg"])))
    axes.set_ylim(
        -20.0 if _to_starboard(history) else -limit, limit if _to_starboard(history) else 20
    )
    axes.set_xlabel("time from the command [s]")
    axes.set_ylabel("bank [deg], starboard down")
    axes.set_title(f"to port {history['left_deg']:.3g}, starboard {history['right_deg']:.3g} deg")
    axes.legend(fontsize=7, loc="upper left", frameon=True, framealpha=0.85)
    return axes


def _to_starboard(history: Document) -> bool:
    return bool(history["histories"][0]["sense"] == "to starboard")


def save_roll_picture(document: Document, path: Path) -> None:
    """Six panels: three maps, command curves, authority, bank history."""
    with plot_style() as plt:
        figure, grid = plt.subplots(2, 3, figsize=(14.0, 8.6), layout="constrained")
        moment_map(grid[0, 0], document, "rolling_moment_N_m", "rolling moment [N m], lift held")
        pairs_on_map(grid[0, 0], document)
        moment_map(grid[0, 1], document, "yawing_moment_N_m", "yawing moment [N m], lift held")
        moment_map(grid[0, 2], document, "roll_rate_deg_s", "steady roll rate [deg/s]")
        command_curves(grid[1, 0], document)
        authority_curves(grid[1, 1], document)
        bank_histories(grid[1, 2], document)
        speed = document["state"]["airspeed_m_s"]
        figure.suptitle(
            f"{document['title']}, {speed:g} m/s: an estimate, not a flight clearance", fontsize=10
        )
        figure.savefig(path)
