"""Pictures of a flight log: its segments in time, bins over the prediction, residuals, profiles."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np

from vlm.log.analysis import Compared, Measured
from vlm.log.difference import Difference
from vlm.log.fit import Estimate, Fit
from vlm.log.residuals import PredictedCurve
from vlm.log.steady import CRITERIA
from vlm.plain import plus_minus
from vlm.show.labelling import end_labels
from vlm.show.saving import save_figure
from vlm.show.style import COLOURS, DIVERGING, MAP_INK, MAP_PAPER, MARKERS, plot_style

GREY = "0.55"
MOST_UNKNOWNS_IN_A_ROW = 4
MOST_WRITTEN = 8
# A line is broken where so many cells are missing.
GAP_CELLS = 4.0
HATCHES = (None, "///", "...", "xxx")


def _place(result: Measured, name: str) -> int:
    """Place of a configuration in the file, as other commands count them."""
    names = list(result.craft.settings)
    return names.index(name) if name in names else len(names) + list(result.binned).index(name)


def _colour(result: Measured, name: str) -> str:
    """One colour a configuration, the same in every picture."""
    return COLOURS[_place(result, name) % len(COLOURS)]


def _marker(result: Measured, name: str) -> str:
    return MARKERS[_place(result, name) % len(MARKERS)]


def _minutes(result: Measured) -> Any:
    """Time since the start; a log under several clocks is drawn part after part [min]."""
    cells = result.log.cells
    time, part = cells["time"].to_numpy(), cells["part"].to_numpy()
    shown = np.empty(time.size)
    begin = 0.0
    for number in np.unique(part):
        rows = part == number
        shown[rows] = begin + time[rows] - time[rows][0]
        begin = shown[rows][-1] + 2.0 * GAP_CELLS * result.log.cell_s
    return shown / 60.0


def time_traces(axes: Any, result: Measured) -> Any:
    """Airspeed, power and climb against time, steady segments shaded; returns the three axes."""
    minutes = _minutes(result)
    cells = result.log.cells
    traces = (
        ("airspeed as read [m/s]", cells["airspeed"].to_numpy()),
        ("power [W]", cells["power"].to_numpy()),
        ("climb [m/s]\ndotted: limits", result.steady.climb_m_s),
    )
    breaks = np.flatnonzero(np.diff(minutes) > GAP_CELLS * result.log.cell_s / 60.0)
    for panel, (name, values) in zip(axes, traces, strict=True):
        panel.plot(
            np.insert(minutes, breaks + 1, np.nan), np.insert(values, breaks + 1, np.nan),
            color="0.25", lw=0.7,
        )  # fmt: skip
        panel.set_ylabel(name)
        _shade(panel, result, minutes)
    limit = result.craft.how.steady.climb_max_m_s
    for side in (-limit, limit):
        axes[2].axhline(side, color="k", lw=0.6, ls=":")
    if result.binned:
        from matplotlib.legend_handler import HandlerTuple
        from matplotlib.patches import Patch

        marks = [tuple(Patch(**one) for one in _shading(result, name)) for name in result.binned]
        axes[0].legend(
            marks, list(result.binned), handler_map={tuple: HandlerTuple(ndivide=1, pad=0.0)},
            fontsize=8, ncols=6, loc="lower left", bbox_to_anchor=(0.0, 1.0), title_fontsize=8,
            title="steady segments of",
        )  # fmt: skip
    return axes


def _shade(panel: Any, result: Measured, minutes: Any) -> None:
    """Steady segments as coloured spans."""
    half = 0.5 * result.log.cell_s / 60.0
    for segment in result.steady.segments:
        span = (minutes[segment.first] - half, minutes[segment.last] + half)
        for layer in _shading(result, segment.configuration):
            panel.axvspan(*span, **layer)


def _shading(result: Measured, name: str) -> list[dict[str, Any]]:
    """A ground and, from the second on, a hatch over it: configurations differ in grey too."""
    names, colour = list(result.binned), _colour(result, name)
    ground = {"fc": colour, "alpha": 0.25, "lw": 0}
    hatch = HATCHES[names.index(name) % len(HATCHES)] if name in names else None
    if hatch is None:
        return [ground]
    return [ground, {"fc": "none", "ec": colour, "alpha": 0.7, "hatch": hatch, "lw": 0}]


def time_verdicts(axes: Any, result: Measured) -> Any:
    """Why each moment is in no segment, as a row of ticks a criterion; returns the axes."""
    minutes = _minutes(result)
    axes.set_xlim(minutes[0], minutes[-1])
    names = [name for name in CRITERIA[1:] if (result.steady.verdict == CRITERIA.index(name)).any()]
    for row, name in enumerate(names):
        rows = result.steady.verdict == CRITERIA.index(name)
        axes.plot(minutes[rows], np.full(rows.sum(), row), "|", color="k", markersize=7, mew=0.8)
    axes.set_yticks(range(len(names)), names, fontsize=7.5)
    axes.set_ylim(len(names) - 0.4, -0.6)
    axes.set_xlabel("time from the start [min]")
    axes.set_title("left out by", loc="left", fontsize=8)
    return axes


def bins_over_curves(axes: Any, result: Measured, against: Compared | None) -> Any:
    """Bins with intervals and segments over the predicted curves; returns the axes."""
    lines = []
    for name, power in result.binned.items():
        colour, marker = _colour(result, name), _marker(result, name)
        if result.model is not None:
            points = result.model.points
            rows = points.configuration == name
            level = points.power_W - result.model.around.cost.value_W_s_m * points.climb_m_s
            axes.plot(
                points.airspeed_m_s[rows], level[rows], marker, color=colour, alpha=0.35,
                markersize=3, mew=0,
            )  # fmt: skip
        _bars(
            axes,
            [b.airspeed_m_s for b in power.bins],
            [b.power_W for b in power.bins],
            [b.interval_W[1] - b.power_W for b in power.bins],
            colour=colour, marker=marker,
        )  # fmt: skip
        if against is None:
            (line,) = axes.plot(
                [b.airspeed_m_s for b in power.bins], [b.power_W for b in power.bins], ls="",
                color=colour,
            )  # fmt: skip
            lines.append((line, name))
            continue
        fitted = against.fitted_curves.get(name)
        before = "--" if fitted is not None else "-"
        line = _curve(axes, against.curves[name], ls=before, color=colour, lw=1.1)
        if fitted is not None:
            line = _curve(axes, fitted, color=colour, lw=1.6, band=False)
        lines.append((line, name))
    _frame(axes, result)
    axes.set_ylabel("electrical power [W]")
    said = "" if against is None else "\nline and band: prediction with its uncertain inputs"
    if against is not None and against.fitted_curves:
        said = "\ndashed, with band: geometry file; full: fitted"
    axes.set_title(
        f"{power_title(result)}\npoints: measured at {result.density_kg_m3:.3f} kg/m$^3$,"
        f" {100 * result.plan.level:g} % intervals{said}",
        loc="left",
    )
    end_labels(axes, lines)
    return axes


def power_title(result: Measured) -> str:
    """The sentence that the picture of the powers shows."""
    known = [
        f"{item.first} draws {b.first_draws} than {item.second} at {b.airspeed_m_s:.0f} m/s"
        for item in result.differences
        for b in item.bins
        if b.first_draws != "unknown"
    ]
    if not known:
        return "No difference between configurations is sure" if result.differences else "Power"
    return known[0] + (f", and {len(known) - 1} more known signs" if len(known) > 1 else "")


def _curve(axes: Any, curve: PredictedCurve, *, band: bool = True, **style: Any) -> Any:
    """A prediction, with what its uncertain inputs leave open; returns the line."""
    (line,) = axes.plot(curve.airspeed_m_s, curve.power_W, **style)
    if band and np.any(curve.half_width_W > 0.0):
        low, high = curve.power_W - curve.half_width_W, curve.power_W + curve.half_width_W
        axes.fill_between(curve.airspeed_m_s, low, high, color=style["color"], alpha=0.12, lw=0)
    return line


def _frame(axes: Any, result: Measured) -> None:
    """Limits by what was measured, so that a curve that shoots up hides nothing."""
    bins = [b for power in result.binned.values() for b in power.bins]
    speeds = [b.airspeed_m_s for b in bins]
    tops = [b.interval_W[1] if np.isfinite(b.interval_W[1]) else b.power_W for b in bins]
    lows = [b.interval_W[0] if np.isfinite(b.interval_W[0]) else b.power_W for b in bins]
    margin = 0.12 * max(max(speeds) - min(speeds), 1.0)
    axes.set_xlim(max(min(speeds) - margin, 0.0), max(speeds) + margin)
    height = max(max(tops) - min(lows), 1.0)
    axes.set_ylim(min(min(lows) - 0.15 * height, 0.0 if min(lows) > 0 else min(lows)), None)
    axes.set_ylim(max(axes.get_ylim()[0], min(lows) - 0.15 * height), max(tops) + 0.25 * height)
    axes.set_xlabel(airspeed_words(result))


def airspeed_words(result: Measured) -> str:
    """What the airspeed is made of, for an axis."""
    if result.craft.how.columns.airspeed.kind != "ground":
        return "true airspeed [m/s]"
    if result.wind is None:
        return "ground speed, the wind not known [m/s]"
    return "airspeed from ground speed and wind [m/s]"


def _bars(
    axes: Any,
    x: Any,
    y: Any,
    half: Any,
    *,
    colour: str,
    marker: str,
    label: str = "",
    filled: bool = True,
) -> None:
    """Points with intervals; an endless one is drawn as an open point without a bar."""
    x, y, half = (np.asarray(values, dtype=float) for values in (x, y, half))
    known = np.isfinite(half)
    axes.errorbar(
        x[known], y[known], half[known], fmt=marker, color=colour, capsize=2.5, markersize=5,
        lw=1.1, mfc=colour if filled else "white", label=label or None,
    )  # fmt: skip
    if not known.all():
        axes.plot(x[~known], y[~known], marker, color=colour, mfc="none", markersize=6)


def difference_bars(axes: Any, item: Difference) -> Any:
    """Difference of two configurations, its sign where it is known; returns the axes.

    A bar reaches over zero where the sign is not known: it holds over all speeds together.
    """
    colours = {"less": COLOURS[2], "more": COLOURS[1], "unknown": GREY}
    words = {
        "less": f"{item.first} draws less",
        "more": f"{item.first} draws more",
        "unknown": "sign not known",
    }
    for sign in ("less", "unknown", "more"):
        rows = [b for b in item.bins if b.first_draws == sign]
        if rows:
            _bars(
                axes,
                [b.airspeed_m_s for b in rows],
                [b.difference_W for b in rows],
                [b.half_width_of_sign_W for b in rows],
                colour=colours[sign], marker={"less": "v", "more": "^", "unknown": "o"}[sign],
                label=words[sign],
            )  # fmt: skip
    for low, high in item.unknown_m_s:
        axes.axvspan(low, high, color="0.92", lw=0, zorder=0)
    axes.axhline(0.0, color="k", lw=0.8)
    axes.set_xlabel("true airspeed [m/s]")
    axes.set_ylabel(f"power of {item.first} less {item.second} [W]")
    axes.set_title(f"bars: {100.0 * item.level:g} %, over all speeds together", loc="left")
    axes.margins(x=0.08)
    axes.legend(fontsize=7.5)
    return axes


def residual_points(axes: Any, result: Measured, against: Compared) -> Any:
    """Measured less predicted over airspeed, before and after the fit; returns the axes."""
    both = (
        (against.residuals, False, "geometry file"),
        (against.fitted_residuals, True, "fitted"),
    )
    for items, after, words in both:
        for item in items:
            filled = after or not against.fitted_residuals
            colour = _colour(result, item.configuration)
            marker = _marker(result, item.configuration)
            _bars(
                axes, item.bin_airspeed_m_s + (0.04 if after else -0.04), item.bin_residual_W,
                item.bin_half_width_W, colour=colour, marker=marker, filled=filled,
                label=f"{item.configuration}, {words}",
            )  # fmt: skip
            if filled:
                axes.plot(
                    item.airspeed_m_s, item.residual_W, marker, color=colour, alpha=0.35,
                    markersize=3, mew=0,
                )  # fmt: skip
    axes.axhline(0.0, color="k", lw=0.8)
    axes.set_xlabel("true airspeed [m/s]")
    axes.set_ylabel("measured less predicted [W]")
    axes.set_title("bins with intervals; small marks: segments", loc="left")
    axes.legend(fontsize=7.5)
    return axes


def profile_curve(axes: Any, estimate: Estimate, level: float) -> Any:
    """Rise of the misfit with one unknown held; returns the axes."""
    profile = estimate.profile
    axes.plot(profile.value, profile.rise, "o-", color=COLOURS[0], markersize=3)
    axes.axhline(profile.limit, color="k", lw=0.7, ls=":")
    axes.axvspan(*estimate.interval, color=COLOURS[0], alpha=0.15, lw=0)
    axes.axvline(estimate.value, color=COLOURS[0], lw=0.9)
    axes.axvline(estimate.nominal, color=COLOURS[1], ls="--", lw=1.1)
    unit = "" if estimate.unit == "1" else f" [{estimate.unit.replace('^2', '²')}]"
    axes.locator_params(axis="x", nbins=4)
    axes.set_xlabel(f"{estimate.label}{unit}")
    axes.set_ylabel("rise of the sum of squares [1]")
    low, high = estimate.interval
    value, low_words, high_words = (
        plus_minus(one, 0.5 * (high - low)).partition(" ")[0] for one in (estimate.value, low, high)
    )
    axes.set_title(
        f"{value}, {100 * level:g} %: {low_words} to {high_words}"
        f"\ndashed: geometry file, {estimate.nominal:.4g}",
        fontsize=8,
    )
    return axes


def correlation_map(axes: Any, fit: Fit) -> Any:
    """Correlations of the unknowns and of what was held down; returns the axes."""
    labels = {one.name: one.label for one in fit.estimates}
    names = [labels.get(name, name.replace("_", " ")) for name in fit.names]
    image = axes.imshow(fit.correlation, cmap=DIVERGING, vmin=-1.0, vmax=1.0)
    for (row, column), value in np.ndenumerate(fit.correlation):
        if len(names) > MOST_WRITTEN:
            break  # the colours speak; numbers would lie over each other
        colour = MAP_PAPER if abs(value) > 0.7 else MAP_INK
        axes.text(column, row, f"{value:.2f}", ha="center", va="center", fontsize=6.5, color=colour)
    axes.set_xticks(range(len(names)), names, rotation=90, fontsize=7)
    axes.set_yticks(range(len(names)), names, fontsize=7)
    axes.grid(visible=False)
    axes.set_title("correlations", fontsize=8)
    axes.figure.colorbar(image, ax=axes, shrink=0.8)
    return axes


def save_log_pictures(
    result: Measured, against: Compared | None, folder: Path, stem: str, kind: str = "png"
) -> list[Path]:
    """All pictures that a log gives, in a folder.

    Parameters
    ----------
    result : the log by itself
    against : the log against the prediction; None where there is none
    folder : made if it is missing
    stem : first part of the files' names
    kind : "png", "svg" or "pdf"

    Returns
    -------
    The files written.
    """
    folder.mkdir(parents=True, exist_ok=True)
    drawn: dict[str, Callable[[Any], Any]] = {"time": lambda plt: _time_figure(plt, result)}
    if result.binned:
        drawn["power"] = lambda plt: _power_figure(plt, result, against)
    if against is not None:
        drawn["residuals"] = lambda plt: _residual_figure(plt, result, against)
        fit = against.fit
        if fit is not None:
            drawn["fit"] = lambda plt: _fit_figure(plt, result, fit)
    written = []
    with plot_style() as plt:
        for name, draw in drawn.items():
            path = folder / f"{stem}-{name}.{kind}"
            figure = draw(plt)
            figure.suptitle(
                f"{result.craft.title}, {result.log.path.name}: an estimate, not a flight"
                " clearance",
                fontsize=9,
            )
            save_figure(figure, path)
            written.append(path)
    return written


def _time_figure(plt: Any, result: Measured) -> Any:
    figure, axes = plt.subplots(
        4, 1, figsize=(11.0, 7.4), layout="constrained", sharex=True,
        height_ratios=(3, 3, 2, 1.6),
    )  # fmt: skip
    time_traces(axes[:3], result)
    time_verdicts(axes[3], result)
    return figure


def _power_figure(plt: Any, result: Measured, against: Compared | None) -> Any:
    shown = [item for item in result.differences if item.bins]
    rows = 2 if shown else 1
    columns = max(len(shown), 1)
    size = (max(7.4, 4.4 * columns), 7.4 if shown else 4.4)
    figure = plt.figure(figsize=size, layout="constrained")
    grid = figure.add_gridspec(rows, columns, height_ratios=(3, 2) if shown else None)
    upper = bins_over_curves(figure.add_subplot(grid[0, :]), result, against)
    for place, item in enumerate(shown):
        lower = difference_bars(figure.add_subplot(grid[1, place]), item)
        lower.set_xlim(upper.get_xlim())
    return figure


def _residual_figure(plt: Any, result: Measured, against: Compared) -> Any:
    figure, axes = plt.subplots(figsize=(7.4, 4.4), layout="constrained")
    residual_points(axes, result, against)
    return figure


def _fit_figure(plt: Any, result: Measured, fit: Fit) -> Any:
    panels = len(fit.estimates) + 1
    size = 3.5 if len(fit.names) <= MOST_WRITTEN else 4.6  # upright names stand apart
    columns = min(panels, MOST_UNKNOWNS_IN_A_ROW)
    rows = -(-panels // columns)
    figure, axes = plt.subplots(
        rows, columns, figsize=(size * columns, size * rows), layout="constrained", squeeze=False
    )
    places = list(axes.flat)
    for place, estimate in zip(places, fit.estimates, strict=False):
        profile_curve(place, estimate, result.plan.level)
    correlation_map(places[panels - 1], fit)
    for place in places[panels:]:
        place.set_axis_off()
    return figure
