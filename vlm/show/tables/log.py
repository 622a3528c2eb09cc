"""The answer of a flight log, for people: words first, then the one table that carries it."""

from collections.abc import Iterable

import numpy as np

from vlm.log.analysis import Compared, Measured
from vlm.log.answer import Answer, answered
from vlm.log.bins import BinnedPower
from vlm.log.difference import Difference
from vlm.log.document import ASSUMPTIONS
from vlm.log.fit import Fit
from vlm.log.residuals import Residuals
from vlm.log.wind import Wind
from vlm.plain import plus_minus
from vlm.show.text.answer import CAUTION, wrapped
from vlm.show.text.layout import number, section, table

DASH = "-"
POWER_NOTE = "legs: steady segments at that airspeed; -: not flown there"
CAUSES_NOTE = (
    "of its uncertainty: by how many of its standard uncertainties the log moves it, negative where"
    " it becomes less"
)
PARTS_NOTE = (
    "scatter: of the segments about the curve; stated: log.uncertainty; drift: slow, from segment"
    " to segment; departure: of the power from a smooth curve of airspeed"
)
RESIDUAL_NOTE = (
    "mean, scatter: mean and standard deviation over the segments; %: the mean over that of the"
    " prediction; W s/m: by how much the difference grows for each m/s of airspeed; bins outside:"
    " farther off than both ± allow"
)
UNPREDICTED_NOTE = "; not predicted: segments for which the craft has no trim within its limits"


def log_table(result: Measured, against: Compared | None = None, *, full: bool = False) -> str:
    """A study of a log as text of 80 columns.

    Parameters
    ----------
    result : the log by itself
    against : the log against the prediction; None where there is none
    full : with everything that the answer rests on
    """
    answer = answered(result, against)
    blocks = [_head(result), _wrapped(answer.sentences)]
    if result.binned:
        blocks.append(section(f"Power in level flight, W, {_level(result)}", _powers(result)))
    blocks += [
        section(
            f"{item.first} less {item.second}, W, {_level(result)} over all speeds together",
            _difference(item),
        )
        for item in result.differences
        if item.bins
    ]
    if against is not None:
        blocks += [section("Measured less predicted, W", _against(against))]
        if against.fit is not None:
            blocks.append(section("Fit", _fit(against.fit)))
    if full:
        blocks += _full(result, against, answer)
    findings = [*result.findings, *(() if against is None else against.findings)]
    if findings:
        text = _wrapped([f.sentence() for f in findings], mark="- ")
        blocks.append(f"Warnings ({len(findings)})\n{text}")
    more = "" if full else " More: --full."
    rests = [f"Rests on: {_rests(result)}.", f"Assumed: {'; '.join(ASSUMPTIONS)}.{more}"]
    return "\n".join([*blocks, *(wrapped(line) for line in rests)])


def _wrapped(sentences: Iterable[str], mark: str = "") -> str:
    return "\n".join(wrapped(mark + text, " " * len(mark)) for text in sentences) + "\n"


def _level(result: Measured) -> str:
    return f"{100.0 * result.plan.level:g} %"


def _head(result: Measured) -> str:
    log = result.log
    return (
        f"{result.craft.title}, log {log.path.name}\n{CAUTION}\n"
        f"{number(log.duration_s / 60.0, 3)} min, {len(result.steady.segments)} steady segments;"
        f" {log.tally.used} of {log.tally.used + log.tally.refused_count} rows used\n"
    )


def _rests(result: Measured) -> str:
    said = [f"density {number(result.density_kg_m3)} kg/m^3 ({result.log.density_source})"]
    if result.model is not None:
        cost = result.model.around.cost
        size = plus_minus(cost.value_W_s_m, cost.spread_W_s_m, "W for each m/s")
        said.append(f"climb costs {size} before the log is seen ({cost.source})")
    said.append(f"readings averaged over cells of {result.log.cell_s:.3g} s")
    return "; ".join(said)


def _powers(result: Measured) -> str:
    """One row a bin of airspeed, one column a configuration."""
    by_bin: dict[int, dict[str, list[str]]] = {}
    for name, power in result.binned.items():
        for item in power.bins:
            cell = [f"{item.airspeed_m_s:.1f}", plus_minus(item.power_W, item.half_width_W)]
            by_bin.setdefault(item.number, {})[name] = [*cell, str(item.segments)]
    heads = [part for name in result.binned for part in ("m/s", name, "legs")]
    rows = [
        [part for name in result.binned for part in found.get(name, [DASH, DASH, DASH])]
        for _, found in sorted(by_bin.items())
    ]
    text = table(heads, rows, left=0)
    return f"{text}\n{POWER_NOTE}" if any(DASH in row for row in rows) else text


def _difference(item: Difference) -> str:
    heads = ["m/s", "difference", "%", "draws"]
    rows = []
    for b in item.bins:
        alone = b.interval_W[1] - b.difference_W
        wider = b.half_width_of_sign_W / alone if alone > 0.0 else 1.0
        half = wider * 0.5 * (b.share_interval[1] - b.share_interval[0])
        share = 100.0 * b.share, 100.0 * half
        draws = "not known" if b.first_draws == "unknown" else f"{item.first} {b.first_draws}"
        rows.append(
            [
                f"{b.airspeed_m_s:.1f}",
                plus_minus(b.difference_W, b.half_width_of_sign_W),
                plus_minus(*share),
                draws,
            ]
        )
    return table(heads, rows, left=0)


def _against(against: Compared) -> str:
    heads = ["", "mean", "%", "scatter", "W s/m", "bins outside", "not predicted"]
    rows = [_residual_row(item, item.configuration) for item in against.residuals]
    rows += [_residual_row(i, f"{i.configuration}, fitted") for i in against.fitted_residuals]
    note = RESIDUAL_NOTE + UNPREDICTED_NOTE
    if not any(item.unpredicted for item in (*against.residuals, *against.fitted_residuals)):
        heads, rows, note = heads[:-1], [row[:-1] for row in rows], RESIDUAL_NOTE
    return f"{table(heads, rows)}\n{wrapped(note)}"


def _residual_row(item: Residuals, name: str) -> list[str]:
    return [
        name,
        plus_minus(item.bias_W, item.bias_half_width_W),
        plus_minus(100.0 * item.bias_share, 100.0 * item.bias_share_half_width),
        number(item.scatter_W, 3),
        number(item.slope_W_s_m, 3),
        f"{item.outside} of {item.bin_residual_W.size}",
        str(item.unpredicted),
    ]


def _fit(fit: Fit) -> str:
    heads = ["unknown", "unit", "file", "fitted", "interval"]
    rows = [
        [
            e.label,
            e.unit,
            number(e.nominal),
            number(e.value),
            f"{number(e.interval[0], 3)} to {number(e.interval[1], 3)}",
        ]
        for e in fit.estimates
    ]
    lines = [table(heads, rows, left=2)]
    count = len(fit.estimates)
    for i in range(count):
        for j in range(i + 1, count):
            pair = f"{fit.estimates[i].label} with {fit.estimates[j].label}"
            value = float(fit.correlation[i, j])
            lines.append(wrapped(f"correlation of {pair}: {number(value, 2)}"))
    return "\n".join(lines)


def _full(result: Measured, against: Compared | None, answer: Answer) -> list[str]:
    blocks = [section("Rows", _wrapped(result.log.tally.sentences()).rstrip())]
    blocks.append(section("Time by criterion", _shares(result)))
    blocks += [
        section(f"Standard uncertainties by source, W, {name}", _parts(power))
        for name, power in result.binned.items()
    ]
    if result.model is not None:
        blocks.append(section("Scatter", _scatter(result)))
    if result.wind is not None:
        blocks.append(section("Wind, pitot and compass", _wind(result.wind)))
    if answer.proposals:
        text = _wrapped([p.sentence() for p in answer.proposals], mark="- ").rstrip()
        blocks.append(section("What would settle open signs", text))
    if against is not None:
        blocks.append(section("What accounts for the difference, W", _causes(against.explanation)))
        check = against.cross_validation
        if check is not None:
            verdict = "the fit helps" if check.helps else "the fit does not help: do not use it"
            text = (
                f"segments left out of the fit are predicted within {number(check.left_out_W, 3)} W"
                f" (root mean square, {check.groups} groups), without any fit within"
                f" {number(check.nominal_W, 3)} W: {verdict}"
            )
            blocks.append(section("Cross-validation", wrapped(text)))
    return blocks


def _shares(result: Measured) -> str:
    shares = result.steady.shares()
    rows = [[name, f"{100.0 * share:.1f}"] for name, share in shares.items() if share > 0.0]
    return table(["criterion", "share, %"], rows)


def _parts(power: BinnedPower) -> str:
    sources = list(power.bins[0].parts_W)
    rows = [
        [f"{b.airspeed_m_s:.1f}", *(number(b.parts_W[s], 2) for s in sources), str(b.segments)]
        for b in power.bins
    ]
    short = {"departure from a smooth curve": "departure", "slow drift": "drift"}
    text = table(["m/s", *(short.get(s, s) for s in sources), "legs"], rows, left=0)
    return f"{text}\n{wrapped(PARTS_NOTE)}"


def _scatter(result: Measured) -> str:
    assert result.model is not None
    scatter = result.model.solution.scatter
    strays = int(np.sum(result.model.solution.weight < 1.0))
    groups = ", ".join(f"{name} {number(size, 2)} W" for name, size in scatter.spread.items())
    text = (
        f"from leg to leg {number(scatter.tau, 3)} W, growing as the power to the"
        f" {scatter.growth:.1f}; {groups}; {number(result.model.solution.freedom, 3)} degrees of"
        f" freedom; {strays} stray segments count less"
    )
    return wrapped(text)


def _wind(wind: Wind) -> str:
    text = (
        f"by {wind.source} of {wind.points} points over {wind.spread_deg:.0f} deg:"
        f" north {plus_minus(wind.north_m_s, wind.north_half_m_s)},"
        f" east {plus_minus(wind.east_m_s, wind.east_half_m_s)} m/s;"
        f" pitot reads {plus_minus(wind.offset_m_s, wind.offset_half_m_s)} m/s and"
        f" {plus_minus(100.0 * wind.scale, 100.0 * wind.scale_half)} % too much;"
        f" headings are to be turned by {plus_minus(wind.heading_deg, wind.heading_half_deg)} deg"
    )
    return wrapped(text)


def _causes(fit: Fit) -> str:
    rows = [
        [cause.label, plus_minus(cause.power_W, cause.half_width_W), f"{cause.shift:.1f}"]
        for cause in fit.causes
        if abs(cause.power_W) >= 0.05
    ]
    rest = ["unexplained", plus_minus(fit.unexplained_W, fit.unexplained_half_W), ""]
    text = table(["", "power", "of its uncertainty"], [*rows, rest])
    return f"{text}\n{wrapped(CAUSES_NOTE)}"
