"""Pictures of a study of rolling by folding: maps, command curves, authority, bank."""

from pathlib import Path
from typing import Any, Literal

import numpy as np

from vlm.show.branches import changes, gapped, lone
from vlm.show.labelling import end_labels, headline
from vlm.show.plots.contours import contour_map
from vlm.show.saving import save_figure
from vlm.show.sentences import roll_sentence
from vlm.show.style import COLOURS, DASHES, MAP_INK, MAP_PAPER, MARKERS, plot_style
from vlm.study.point.contact import branches
from vlm.study.roll.results import RollMapDocument, RollStudy

SHORT_HISTORIES = {
    "sideslip held at zero": "no sideslip",
    "the same, swing of the tips left out": "no swing",
}


Field = Literal["rolling_moment_N_m", "yawing_moment_N_m", "roll_rate_deg_s"]
MAPS: dict[Field, tuple[str, str]] = {
    "rolling_moment_N_m": ("rolling moment, lift held", "[N m], positive: starboard down"),
    "yawing_moment_N_m": ("yawing moment, lift held", "[N m], positive: nose to starboard"),
    "roll_rate_deg_s": ("steady roll rate", "[deg/s], positive: starboard down"),
}
"""Fields over the two folds: the title, and the unit with its sign."""


def moment_map(axes: Any, study: RollStudy, key: Field) -> Any:
    """A field of :data:`MAPS` over port (across) and starboard (up) folds; returns the axes."""
    grid = study.map
    values = np.array(grid[key])
    left, right = np.array(grid["left_deg"]), np.array(grid["right_deg"])
    filled = contour_map(axes, left, right, values, signed=True, branch=_branch(grid))
    title, unit = MAPS[key]
    axes.set_title(title, loc="left")
    if filled is not None:
        bar = axes.figure.colorbar(filled, ax=axes, fraction=0.046, pad=0.03)
        bar.set_label(unit)
    return axes


def _branch(grid: RollMapDocument) -> Any:
    return branches(grid["joined"], np.isfinite(grid["rolling_moment_N_m"]))


def pairs_on_map(axes: Any, study: RollStudy) -> Any:
    """The line without lift change, and the pairs found, over a map; returns the axes."""
    grid = study.map
    change = np.where(_branch(grid) == 0, grid["lift_change_N"], np.nan)
    if np.nanmin(change) < 0.0 < np.nanmax(change):
        axes.contour(
            grid["left_deg"], grid["right_deg"], change.T, [0.0], colors=COLOURS[2], linewidths=1.8
        )
    for pairs, marker, colour in (
        (study.pure_roll_pairs, "o", COLOURS[2]),
        (study.least_yaw_pairs, "s", COLOURS[3]),
    ):
        if pairs:
            axes.plot(
                [p.left_deg for p in pairs], [p.right_deg for p in pairs], marker,
                color=colour, markeredgecolor=MAP_INK, markersize=5, clip_on=False, zorder=4,
            )  # fmt: skip
    base = study.state["base_fold_deg"]
    axes.plot(base, base, "*", color=MAP_INK, markeredgecolor=MAP_PAPER, markersize=11)
    marks = "circles: no lift change; squares: least yaw; star: base"
    axes.set_title(f"{axes.get_title('left')}\n{marks}", loc="left", fontsize=8.5)
    return axes


def command_curves(axes: Any, study: RollStudy) -> Any:
    """Rolling moment against the size of a command; returns the axes."""
    lines = []
    for i, command in enumerate(study.commands):
        moments, after = command.rolling_moment_N_m, changes(command.joined)
        at, values = gapped(command.command_deg, after, moments)
        (line,) = axes.plot(at, values, linestyle=DASHES[i], color=COLOURS[i])
        for j in lone(len(moments), after):
            axes.plot(command.command_deg[j], moments[j], MARKERS[i], color=COLOURS[i], ms=4)
        lines.append((line, command.name.replace(" tips", "").replace(" tip", "")))
        if np.isfinite(command.slope_N_m_deg):
            reach = np.array([-15.0, 15.0])
            axes.plot(reach, command.slope_N_m_deg * reach, color=COLOURS[i], lw=0.7)
    axes.axhline(0.0, color="k", lw=0.7)
    axes.set_xlabel("command [deg], raises the named tip (port, of both)")
    axes.set_ylabel("rolling moment [N m], starboard down")
    touching = any(any(command.joined) for command in study.commands)
    alone = "; marks alone: a tip touches a wing" if touching else ""
    axes.set_title(
        f"commands from the base, lift held; ± not known\nthin: tangents{alone}", loc="left"
    )
    end_labels(axes, lines)
    return axes


def authority_curves(axes: Any, study: RollStudy) -> Any:
    """Rolling moment with its sign against airspeed, tips and rotors; returns the axes."""
    rows = [row for row in study.airspeeds if row.reason is None]
    commands = {
        "strongest pair": [row.strongest for row in rows],
        "both apart 20°": [row.both_apart_20_deg for row in rows],
        "port down 20°": [row.port_down_20_deg for row in rows],
    }
    lines = []
    for i, (name, authorities) in enumerate(commands.items()):
        pairs = zip(rows, authorities, strict=True)
        known = [(row.airspeed_m_s, at) for row, at in pairs if at is not None]
        if known:
            speeds = [speed for speed, _ in known]
            moments = np.array([at.rolling_moment_N_m for _, at in known])
            widths = np.array([at.half_width_N_m for _, at in known])
            (line,) = axes.plot(speeds, moments, ls=DASHES[i], color=COLOURS[i])
            axes.fill_between(speeds, moments - widths, moments + widths, color=COLOURS[i],
                              alpha=0.25, lw=0)  # fmt: skip
            lines.append((line, name))
    contest = (study.rotors.airspeeds if study.rotors is not None else None) or ()
    for dash, name, key in ((":", "same, trimmed", "tips"), ("-.", "rotors", "rotors")):
        known_there = [one for one in contest if getattr(one, f"{key}_N_m") is not None]
        if known_there:
            places, middle, half = np.array(
                [(one.airspeed_m_s, getattr(one, f"{key}_N_m"),
                  getattr(one, f"{key}_half_width_N_m")) for one in known_there], dtype=float,
            ).T  # fmt: skip
            (line,) = axes.plot(places, middle, color="k", ls=dash)
            axes.fill_between(places, middle - half, middle + half, color="k", alpha=0.12, lw=0)
            lines.append((line, name))
    axes.axhline(0.0, color="k", lw=0.8)
    for one in study.reversals:
        axes.errorbar(one.airspeed_m_s, 0.0, xerr=one.half_width_m_s, fmt="k*", ms=9, capsize=3)
    axes.set_xlabel("airspeed [m/s]")
    axes.set_ylabel("rolling moment [N m], to port  |  to starboard")
    star = "; star: reverses" if study.reversals else ""
    axes.set_title(f"authority, lift held; rotors: either way{star}", loc="left")
    end_labels(axes, lines)
    return axes


def bank_histories(axes: Any, study: RollStudy) -> Any:
    """Bank against time; returns the axes."""
    history = study.bank_history
    if history.histories is None:
        axes.text(0.5, 0.5, f"no bank history:\n{history.reason}", ha="center", va="center",
                  transform=axes.transAxes, fontsize=8, wrap=True)  # fmt: skip
        return axes
    lines = []
    for i, one in enumerate(history.histories):
        (line,) = axes.plot(one.time_s, one.bank_deg, ls=DASHES[i], color=COLOURS[i])
        name = SHORT_HISTORIES.get(one.name, one.name)
        if one.departs:
            axes.plot(one.time_s[-1], one.bank_deg[-1], "x", color=COLOURS[i], ms=7)
            name = f"{name}, cut off"
        lines.append((line, name))
    axes.axhline(0.0, color="k", lw=0.7)
    for bank in (-60.0, -30.0, 30.0, 60.0):
        axes.axhline(bank, color="k", lw=0.4, ls=":")
    axes.axvline(history.folding_time_s, color="k", lw=0.7)
    axes.annotate(
        "tips stand", (history.folding_time_s, 0.02), xycoords=("data", "axes fraction"),
        fontsize=7.5, xytext=(3, 0), textcoords="offset points",
    )  # fmt: skip
    banks = np.concatenate([one.bank_deg for one in history.histories])
    axes.set_ylim(
        max(-200.0, min(-20.0, 1.05 * banks.min())), min(200.0, max(20.0, 1.05 * banks.max()))
    )
    axes.set_xlabel("time from the command [s]")
    axes.set_ylabel("bank [deg], to port  |  to starboard")
    axes.set_title(
        f"after a command of port {history.left_deg:.3g}°, starboard {history.right_deg:.3g}°"
        "\n± not known",
        loc="left",
    )
    end_labels(axes, lines)
    return axes


def save_roll_picture(study: RollStudy, path: Path) -> None:
    """Six panels: three maps, command curves, authority, bank history."""
    with plot_style() as plt:
        figure = plt.figure(figsize=(15.5, 9.6), layout="constrained")
        # In parts of their own, or names beside the curves would make the maps above them narrow.
        maps, curves = (part.subplots(1, 3) for part in figure.subfigures(2, 1))
        for axes, key in zip(maps, MAPS, strict=True):
            moment_map(axes, study, key)
        pairs_on_map(maps[0], study)
        command_curves(curves[0], study)
        authority_curves(curves[1], study)
        bank_histories(curves[2], study)
        speed = study.state["airspeed_m_s"]
        said = [roll_sentence(study)]
        headline(figure, said, f"{study.title}, {speed:g} m/s", 190)
        save_figure(figure, path)
