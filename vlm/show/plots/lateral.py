"""Pictures of a study of lateral stability: derivatives, shares, roots, control's part."""

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import numpy as np

from vlm.show.branches import changes, gapped
from vlm.show.labelling import degree_ticks, end_labels, headline, spread_apart
from vlm.show.saving import save_figure
from vlm.show.sentences import dihedral_sentence
from vlm.show.style import COLOURS, DASHES, SEQUENTIAL, look, plot_style
from vlm.study.lateral.results import FoldRow, LateralStudy, Motions, SettingModes, SharesRow

# The names of real roots stand below the axis, slanted, so many points apart.
NAME_SPACING = 17.0
LINE_SPACING = 9.0
LETTER = 5.0
"""Width of a letter of a name, with some room for axes that the layout makes narrower [pt]."""
ROOM_OF_A_LINE = 0.06
"""Share of the axes' height above all bars for each line of the legend [1]."""
ROOM_BELOW = 0.7
GLYPHS = {"o": "○", "s": "□", "D": "◇", "^": "△", "v": "▽", "*": "☆", "P": "✚"}
"""Characters that look like the markers."""
FOLD = "fold of both sides [deg], positive raises the tips"


def _broken(rows: Sequence[FoldRow], *series: Any) -> list[Any]:
    """Folds and values with a gap where a contact begins or ends: closed and open differ."""
    after = changes([bool(row.joined) for row in rows])
    return gapped([row.fold_deg for row in rows], after, *series)


def dihedral_curves(axes: Any, study: LateralStudy) -> Any:
    """Cl_beta against fold with its error, level flight and fixed angles; returns the axes."""
    rows = [row for row in study.folds if row.reason is None]
    lines = []
    for i, alpha in enumerate(study.state["alphas_deg"]):
        at_alpha = [(row.alphas or ())[i].body or {} for row in rows]
        style = {"ls": DASHES[1 + i % 4], "lw": 1.0, "color": COLOURS[1 + i]}
        (line,) = axes.plot(*_broken(rows, [body["Cl_beta"] for body in at_alpha]), **style)
        lines.append((line, rf"$\alpha$ {alpha:g}°"))
    level = study.level_flights
    at, found, widths = _broken(
        [row for row, _, _ in level],
        [body["Cl_beta"] for _, _, body in level],
        [one.half_width("Cl_beta") for _, one, _ in level],
    )
    drawn = axes.errorbar(at, found, widths, color=COLOURS[0], marker="o", ms=3.5, capsize=2)
    lines.append((drawn.lines[0], "level flight"))
    for root in study.neutral_folds:
        axes.errorbar(root.fold_deg, 0.0, xerr=root.half_width_deg, fmt="k*", ms=9)
        axes.annotate(f"{root.fold_deg:.1f}°", (root.fold_deg, 0.0), xytext=(7, 5),
                      textcoords="offset points", fontsize=8)  # fmt: skip
    axes.axhline(0.0, color="k", lw=0.8)
    axes.set_xlabel(FOLD)
    axes.set_ylabel(r"$C_{l\beta}$ [1/rad], body axes; stable where negative")
    axes.set_title("dihedral effect; bars: ± in level flight", loc="left")
    degree_ticks(axes.xaxis)
    end_labels(axes, lines)
    return axes


def derivative_curves(axes: Any, study: LateralStudy) -> Any:
    """Cn_beta, Cn_r, Cl_r, Cn_p and, a tenth of it, Cl_p, in level flight; returns the axes."""
    level = study.level_flights
    rows = [row for row, _, _ in level]
    names = {
        "Cn_beta": (r"$C_{n\beta}$", 1.0),
        "Cn_r": (r"$C_{nr}$", 1.0),
        "Cl_r": (r"$C_{lr}$", 1.0),
        "Cn_p": (r"$C_{np}$", 1.0),
        "Cl_p": (r"$C_{lp}/10$", 0.1),
    }
    lines = []
    for i, (name, (symbol, scale)) in enumerate(names.items()):
        folds, values = _broken(rows, [scale * body[name] for _, _, body in level])
        (line,) = axes.plot(folds, values, ls=DASHES[i], color=COLOURS[i], marker=".")
        lines.append((line, symbol))
        widths = scale * np.array([one.half_width(name) for _, one, _ in level])
        if np.isfinite(widths).all():
            _, width = _broken(rows, widths)
            axes.fill_between(folds, values - width, values + width, color=COLOURS[i],
                              alpha=0.25, lw=0)  # fmt: skip
    axes.axhline(0.0, color="k", lw=0.8)
    axes.set_xlabel(FOLD)
    axes.set_ylabel("derivatives [1/rad], body axes")
    axes.set_title("derivatives in level flight; bands: ±", loc="left")
    degree_ticks(axes.xaxis)
    end_labels(axes, lines)
    return axes


PARTS: dict[str, Callable[[SharesRow], float | None]] = {
    "fixed wings": lambda one: one.fixed_wings,
    "tips' dihedral": lambda one: one.tips,
    "lift (ends, wake)": lambda one: one.lift,
    "centre of gravity's height": lambda one: one.height,
    "sections": lambda one: one.sections,
    "drag areas": lambda one: one.drag_areas,
    "rotors": lambda one: one.rotors,
}
"""Parts of Cl_beta by what people call them."""


def share_bars(axes: Any, study: LateralStudy) -> Any:
    """Parts of Cl_beta at each fold, stacked either side of zero; returns the axes."""
    shares = [one for one in study.shares if one.reason is None]
    place = np.arange(len(shares))
    # Each keeps its colour, whichever others a craft has.
    parts = [
        (i, name, share)
        for i, (name, share) in enumerate(PARTS.items())
        if any(share(one) for one in shares)
    ]
    for sign in (1.0, -1.0):
        floor = np.zeros(len(shares))
        for i, name, share in parts:
            part = np.maximum(0.0, sign * np.array([share(one) for one in shares], dtype=float))
            axes.bar(place, sign * part, 0.55, sign * floor, color=COLOURS[i],
                     hatch=("", "//", "..", "xx", "--", "++", "\\\\")[i], edgecolor="w",
                     label=name if sign > 0.0 else None)  # fmt: skip
            floor += part
    totals = np.array([one.total for one in shares], dtype=float)
    turned = totals - np.array([one.wake_turn for one in shares], dtype=float)
    axes.plot(place, totals, "kD", ms=5, label="total")
    axes.plot(place, turned, "kD", ms=5, mfc="w", label="total, wake held in sideslip")
    axes.axhline(0.0, color="k", lw=0.8)
    axes.set_xticks(place, [f"{one.fold_deg:g}" for one in shares])
    axes.grid(axis="x", visible=False)
    axes.set_title("parts of the dihedral effect, level flight", loc="left")
    axes.use_sticky_edges = False
    axes.margins(y=0.06)
    axes.set_xlabel(FOLD)
    axes.set_ylabel(r"parts of $C_{l\beta}$ [1/rad]; stable where negative")
    low, high = axes.get_ylim()
    axes.set_ylim(low, low + (high - low) / (1.0 - ROOM_OF_A_LINE * (len(parts) + 2)))
    axes.legend(fontsize=7.5, loc="upper right")
    return axes


def root_locus(axes: Any, study: LateralStudy, motions: Motions) -> Any:
    """Roots in level flight: colour tells the fold, the marker the airspeed; returns the axes."""
    rows = study.known_modes
    folds = [row.fold_left_deg for row in rows]
    speeds = sorted({row.airspeed_m_s for row in rows})
    markers = dict(zip(speeds, "osD^v*P" * (len(speeds) // 7 + 1), strict=False))
    key = ", ".join(
        f"{GLYPHS[marker]}\N{NO-BREAK SPACE}{speed:g}" for speed, marker in markers.items()
    )
    drawn = None
    for row in rows:
        roots = row.modes(motions)
        drawn = axes.scatter(
            [m.real_1_s for m in roots], [m.imaginary_1_s for m in roots],
            c=[row.fold_left_deg] * len(roots), vmin=min(folds), vmax=max(folds) + 1e-9,
            cmap=SEQUENTIAL, marker=markers[row.airspeed_m_s], s=26, edgecolors="k",
            linewidths=0.4,
        )  # fmt: skip
    if drawn is not None:
        axes.figure.colorbar(
            drawn, ax=axes, label="fold [deg], positive raises the tips", location="bottom"
        )
    low, high = axes.get_xlim()
    high = max(high, 0.6) + 0.1 * (high - low)
    axes.axvspan(0.0, high, color="0.9", zorder=0)
    axes.set_xlim(low, high)
    top = 1.12 * axes.get_ylim()[1]
    axes.set_ylim(-ROOM_BELOW * top, top)
    _name_modes(axes, rows, motions)
    axes.axvline(0.0, color="k", lw=0.8)
    axes.axhline(0.0, color="k", lw=0.8, zorder=0)
    axes.set_yticks([tick for tick in axes.get_yticks() if 0.0 <= tick <= top])
    axes.annotate("grows", (0.0, 0.97), xycoords=("data", "axes fraction"), xytext=(4, 0),
                  textcoords="offset points", va="top", fontsize=8)  # fmt: skip
    axes.set_xlabel("real part [1/s]")
    axes.set_ylabel("imaginary part [rad/s]")
    axes.set_title(f"{motions} roots in level flight at {key} m/s", loc="left")
    return axes


def _name_modes(axes: Any, rows: Sequence[SettingModes], motions: Motions) -> None:
    """Write the modes' names once each, at their middle occurrence."""
    places: dict[str, list[tuple[float, float]]] = {}
    for row in rows:
        for mode in row.modes(motions):
            places.setdefault(mode.name, []).append((mode.real_1_s, mode.imaginary_1_s))
    middles = {name: sorted(found)[len(found) // 2] for name, found in places.items()}
    real = [(x, name) for name, (x, y) in middles.items() if y == 0.0]
    points_of = 72.0 / axes.figure.dpi
    across = axes.transData.transform([(x, 0.0) for x, _ in real] or [(0.0, 0.0)])[:, 0] * points_of
    moved = spread_apart(across.tolist(), NAME_SPACING)
    for (x, name), shift in zip(real, (moved - across).tolist(), strict=False):
        axes.annotate(name, (x, 0.0), xytext=(shift - 2, -6), fontsize=7.5, va="top",
                      textcoords="offset points", rotation=-55.0)  # fmt: skip
    paired = [name for name, (_, y) in middles.items() if y != 0.0]
    leftmost = [min(place for place in places[name] if place[1] >= 0.0) for name in paired]
    _room_beside(axes, [(x, name) for name, (x, _) in zip(paired, leftmost, strict=True)])
    up = axes.transData.transform(leftmost or [(0.0, 0.0)])[:, 1] * points_of
    moved = spread_apart(up.tolist(), LINE_SPACING)
    for name, place, shift in zip(paired, leftmost, (moved - up).tolist(), strict=False):
        axes.annotate(name, place, xytext=(-6, shift), fontsize=7.5, va="center",
                      textcoords="offset points", ha="right",
                      bbox={"boxstyle": "round,pad=0.1", "fc": "w", "ec": "none",
                            "alpha": 0.75})  # fmt: skip


def _room_beside(axes: Any, names: Sequence[tuple[float, str]]) -> None:
    """Move the axes' left end so far out that names to the left of their places stand within."""
    low, high = axes.get_xlim()
    one = (high - low) / (axes.bbox.width * 72.0 / axes.figure.dpi)
    ends = [x - one * (LETTER * len(name) + LINE_SPACING) for x, name in names]
    axes.set_xlim(left=min([low, *ends]))


def aid_curves(axes: Any, study: LateralStudy) -> Any:
    """Least yaw damping against yaw stiffness that control must add; returns the axes."""
    lines, hopeless = [], []
    known = [(row, row.yaw) for row in study.rotors_must_add if row.yaw is not None]
    for i, (row, yaw) in enumerate(known):
        if np.isnan(yaw.damping_N_m_s).all():
            hopeless.append(f"{row.fold_deg:g}°")
            continue
        curve = look(i, len(yaw.damping_N_m_s))
        (line,) = axes.plot(yaw.stiffness_N_m_rad, yaw.damping_N_m_s, **curve)
        lines.append((line, f"fold {row.fold_deg:g}°"))
    axes.set_xlim(left=0.0)
    axes.set_ylim(bottom=0.0)
    axes.set_xlabel("yaw stiffness added [N m/rad of sideslip]")
    axes.set_ylabel("least yaw damping added [N m s/rad]")
    never = f"\nno yaw control is enough at fold {', '.join(hopeless)}" if hopeless else ""
    axes.set_title(f"what the rotors must add in yaw; ± not known{never}", loc="left")
    end_labels(axes, lines)
    return axes


def save_lateral_picture(study: LateralStudy, path: Path) -> None:
    """Six panels: dihedral effect, other derivatives, shares, two root loci, control's part."""
    with plot_style() as plt:
        figure, grid = plt.subplots(2, 3, figsize=(14.0, 8.6), layout="constrained")
        dihedral_curves(grid[0, 0], study)
        derivative_curves(grid[0, 1], study)
        share_bars(grid[0, 2], study)
        root_locus(grid[1, 0], study, "lateral")
        root_locus(grid[1, 1], study, "longitudinal")
        aid_curves(grid[1, 2], study)
        speed = study.state["airspeed_m_s"]
        said = [dihedral_sentence(study)]
        headline(figure, said, f"{study.title}, {speed:g} m/s", 190)
        save_figure(figure, path)
