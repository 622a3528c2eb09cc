"""The tables of a flight log, for people."""

from vlm.cautions import SHORT_CAUTION
from vlm.log.analysis import Compared, Measured
from vlm.log.bins import BinnedPower
from vlm.log.difference import Difference
from vlm.log.document import ASSUMPTIONS
from vlm.log.fit_intervals import Fit
from vlm.log.residuals import Residuals
from vlm.log.wind import Wind
from vlm.show.tables.layout import number, section, table


def log_table(result: Measured, against: Compared | None = None) -> str:
    """All of a study of a log as text.

    Parameters
    ----------
    result : the log by itself
    against : the log against the prediction; None where there is none
    """
    blocks = [_head(result), section("Rows", "\n".join(result.log.tally.sentences()))]
    blocks.append(section("Time by criterion", _shares(result)))
    blocks += [
        section(f"Measured power, {name}", _bins(power)) for name, power in result.binned.items()
    ]
    blocks += [
        section(f"{item.first} less {item.second}", _difference(item))
        for item in result.differences
    ]
    if result.wind is not None:
        blocks.append(section("Wind and pitot", _wind(result.wind, result.plan.level)))
    if against is not None:
        blocks += _against(against)
    findings = [*result.findings, *(() if against is None else against.findings)]
    if findings:
        blocks.append(section("Doubts", "\n".join(f"- {f.sentence()}" for f in findings)))
    return "\n".join([*blocks, "Assumed: " + "; ".join(ASSUMPTIONS) + ".", SHORT_CAUTION])


def _head(result: Measured) -> str:
    log, steady = result.log, result.steady
    cost = result.climb_cost_W_s_m
    level = "power not corrected for climb" if cost is None else (
        f"power corrected for climb at {number(cost, 3)} W for each m/s"
    )  # fmt: skip
    return (
        f"{result.craft.title}, log {log.path}\n"
        f"a row each {number(log.interval_s, 3)} s, averaged over cells of"
        f" {number(log.cell_s, 3)} s; {number(log.duration_s / 60.0, 3)} min,"
        f" {len(steady.segments)} steady segments\n"
        f"density {number(result.density_kg_m3)} kg/m^3 ({log.density_source}); {level}\n"
        f"intervals at {100.0 * result.plan.level:g} %\n"
    )


def _shares(result: Measured) -> str:
    heads = ["criterion", "share [%]"]
    shares = result.steady.shares()
    rows = [[name, f"{100.0 * share:.1f}"] for name, share in shares.items() if share > 0.0]
    return table(heads, rows)


def _between(interval: tuple[float, float], digits: int = 4) -> str:
    """An interval in words; "endless" where nothing tells it."""
    low, high = interval
    if abs(low) == float("inf") or abs(high) == float("inf"):
        return "endless"
    return f"{number(low, digits)} to {number(high, digits)}"


def _bins(power: BinnedPower) -> str:
    heads = ["airspeed [m/s]", "power [W]", "interval [W]", "spread [W]", "segments", "cells",
             "scatter [W]", "pitot [W]", "gain [W]", "air [W]"]  # fmt: skip
    rows = [
        [
            f"{b.airspeed_m_s:.2f}",
            number(b.power_W),
            _between(b.interval_W),
            number(b.spread_W, 3),
            str(b.segments),
            str(b.cells),
            number(b.scatter.standard_error, 3),
            number(b.airspeed_error_W, 3),
            number(b.gain_error_W, 3),
            number(b.air_error_W, 3),
        ]
        for b in power.bins
    ]
    return "\n".join(
        [
            table(heads, rows, left=0),
            f"the log remembers for {number(power.correlation_time_s, 3)} s; blocks of"
            f" {number(power.block_cells, 3)} cells; from segment to segment"
            f" {number(power.between_W, 3)} W",
        ]
    )


def _difference(item: Difference) -> str:
    heads = ["airspeed [m/s]", "difference [W]", "interval [W]", "[%]", "interval [%]", "draws"]
    rows = [
        [
            f"{b.airspeed_m_s:.2f}",
            number(b.difference_W, 3),
            _between(b.interval_W, 3),
            number(100.0 * b.share, 3),
            _between((100.0 * b.share_interval[0], 100.0 * b.share_interval[1]), 3),
            b.sign,
        ]
        for b in item.bins
    ]
    lines = [table(heads, rows, left=0)] if rows else []
    lines += item.sentences()
    crossing = ", ".join(f"{speed:.1f}" for speed in item.crossing_m_s)
    if crossing:
        lines.append(f"the mean difference changes its sign at {crossing} m/s")
    for low, high in item.unknown_m_s:
        lines.append(f"the sign is not known between {low:.1f} and {high:.1f} m/s")
    return "\n".join(lines)


def _wind(wind: Wind, level: float) -> str:
    how = "track and heading" if wind.used_heading else "track and speeds alone"
    return (
        f"{number(wind.speed_m_s, 3)} m/s from {wind.from_deg:.0f} deg, each component within"
        f" +- {number(wind.speed_error_m_s, 2)} m/s at {100.0 * level:g} %, by {how} of"
        f" {wind.segments} segments over {wind.spread_deg:.0f} deg\n"
        f"the pitot's offset is {number(wind.offset_m_s, 2)} m/s, positive where it reads too much"
        f" ({_between(wind.offset_interval_m_s, 2)} m/s)"
    )


def _against(against: Compared) -> list[str]:
    blocks = [
        section("Measured less predicted, geometry file as it is", _residuals(against.residuals))
    ]
    if against.fit is not None:
        blocks.append(section("Fit", _fit(against.fit)))
        blocks.append(
            section("Measured less predicted, fitted", _residuals(against.fitted_residuals))
        )
    check = against.cross_validation
    if check is not None:
        verdict = "the fit helps" if check.helps else "the fit does not help: do not use it"
        text = (
            f"segments left out of the fit are predicted within {number(check.left_out_W, 3)} W"
            f" (root mean square, {check.groups} groups), without any fit within"
            f" {number(check.nominal_W, 3)} W: {verdict}"
        )
        blocks.append(section("Cross-validation", text))
    return blocks


def _residuals(items: tuple[Residuals, ...]) -> str:
    heads = ["configuration", "bias [W]", "bias [%]", "scatter [W]", "slope [W s/m]",
             "bins outside", "segments not predicted"]  # fmt: skip
    rows = [
        [
            r.configuration,
            number(r.bias_W, 3),
            number(100.0 * r.bias_share, 3),
            number(r.scatter_W, 3),
            number(r.slope_W_s_m, 3),
            f"{r.outside} of {r.bin_residual_W.size}",
            str(r.unpredicted),
        ]
        for r in items
    ]
    return table(heads, rows)


def _fit(fit: Fit) -> str:
    heads = ["unknown", "unit", "file", "fitted", "interval", "linear interval"]
    rows = [
        [
            e.label,
            e.unit,
            number(e.nominal),
            number(e.value),
            _between(e.interval),
            _between(e.linear_interval),
        ]
        for e in fit.estimates
    ]
    lines = [table(heads, rows, left=2)]
    count = len(fit.estimates)
    for i in range(count):
        for j in range(i + 1, count):
            pair = f"{fit.estimates[i].label} with {fit.estimates[j].label}"
            lines.append(f"correlation of {pair}: {number(float(fit.correlation[i, j]), 2)}")
    held = ", ".join(f"{name} {number(value, 2)}" for name, value in fit.held.items())
    if held:
        lines.append(f"held by its stated uncertainty: {held}")
    lines.append(
        f"residuals {number(fit.scatter_before_W, 3)} W before, {number(fit.scatter_W, 3)} W after;"
        f" {fit.freedom} degrees of freedom"
    )
    return "\n".join(lines)
