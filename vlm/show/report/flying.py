"""Sections on power against airspeed, the fold schedule and the flight log."""

from functools import partial
from typing import Any

from vlm.constants import SEA_LEVEL_DENSITY
from vlm.log.answer import answered
from vlm.plain import plus_minus
from vlm.quantities import QUANTITIES
from vlm.show.plots import log as log_plots
from vlm.show.plots import mission as mission_plots
from vlm.show.plots import power as power_plots
from vlm.show.plots import schedule as schedule_plots
from vlm.show.report.parts import (
    Section,
    bullets,
    carrying,
    figure,
    figures,
    fold_out,
    opened,
    paragraph,
    table,
)
from vlm.show.tables.mission import BREAK_EVEN, airspeed_words, mission_answers
from vlm.show.tables.power import ROWS, crossing_doubt, crossing_settings
from vlm.show.tables.power_best import best_sentences, symmetric
from vlm.show.text.layout import number, small
from vlm.study.report.data import ReportData

TRIMS = ("body_angle_deg", "wing_share", "stall_margin_deg", "thrust_N")


def _standing_command(data: ReportData, name: str, options: str) -> str:
    """A command line without airspeed and lattice, in the report's air."""
    command = data.plan.command(name, options, air=False).partition(" --rows")[0]
    standard = data.plan.density == SEA_LEVEL_DENSITY
    return command if standard else f"{command} --density {data.plan.density:g}"


def power_command(data: ReportData) -> str:
    """The command that draws the power curves."""
    return _standing_command(data, "power", "--plot power.png")


def power(data: ReportData) -> Section | None:
    """Power curves, what separates them, the speeds that matter, the trims behind."""
    document = data.studies.get("power")
    if document is None:
        return None
    command = power_command(data)
    blocks = [
        figure("power-curves", "Electrical power against airspeed; bands: intervals from the stated"
               " uncertainties; dotted: a limit forbids the speed; dot: least power.", command,
               partial(power_plots.power_axes, document=document)),
    ]  # fmt: skip
    if document["differences"]:
        blocks += [
            figure(f"power-difference-{unit}", f"Difference of the settings in {words}.", command,
                   partial(power_plots.difference_axes, document=document, unit=unit))
            for unit, words in (("percent", "per cent"), ("W", "watts"))
        ]  # fmt: skip
    first = next(iter(document["configurations"]))
    blocks.append(
        figure("power-parts", f"Where the power of {first} goes, stacked against airspeed.",
               command, partial(power_plots.parts_axes, document=document, name=first)),
    )  # fmt: skip
    blocks += [
        figure(f"power-{key}", f"{opened(QUANTITIES[key].long_name)} against airspeed.", command,
               partial(power_plots.trim_axes, document=document, key=key))
        for key in TRIMS
    ]  # fmt: skip
    said = paragraph(" ".join(best_sentences(document, symmetric(document))))
    body = [
        carrying(said + paragraph(_said(document)), blocks),
        fold_out(
            "Tables and assumptions",
            _speeds(document),
            _crossings(document),
            bullets(document["assumptions"]),
        ),
    ]
    return Section("power", "Power against airspeed", "".join(body))


def _said(document: Any) -> str:
    uncertainty = document["uncertainty"]
    why = "the file has no [uncertainty]" if document["intervals_asked"] else "left out as asked"
    intervals = f"No intervals: {why}."
    if uncertainty is not None:
        intervals = (
            f"Bands and ±: {uncertainty['interval_percent']:g} % intervals from"
            f" {uncertainty['samples']} samples of the stated uncertainties."
        )
    return f"Steady level flight at {number(document['mass_kg'])} kg, trimmed. {intervals}"


def _interval(value: float | None, ends: Any) -> str:
    if ends is None or None in ends:
        return number(value)
    return f"{number(value)} [{number(ends[0], 3)}, {number(ends[1], 3)}]"


def _speeds(document: Any) -> str:
    configurations = document["configurations"]
    rows = [
        [words, *(_interval(one["speeds"][key], one.get("speed_intervals", {}).get(key))
                  for one in configurations.values())]
        for key, words in ROWS
    ]  # fmt: skip
    limits = [one["speeds"]["fastest_limit"] for one in configurations.values()]
    return table(
        "Speeds that matter", ["what", *configurations], [*rows, ["what forbids more", *limits]]
    )


def _crossings(document: Any) -> str:
    rows = [
        [
            crossing_settings(c),
            _interval(c["airspeed_m_s"], c["interval_m_s"]) + crossing_doubt(document, c),
            c["less_above"] or "now the one, now the other",
        ]
        for c in document["crossings"]
    ]
    heads = ["settings", "airspeed [m/s]", "draws less above it"]
    return table("Equal power", heads, rows) if rows else ""


def schedule(data: ReportData) -> Section | None:
    """The best fold at every airspeed, and the schedule as flown."""
    document = data.studies.get("schedule")
    if document is None:
        return None
    command = _standing_command(data, "schedule", "--plot schedule.png")

    def drawing(axes: Any) -> Any:
        schedule_plots.schedule_axes(axes, document)
        axes.set_title("", loc="left")
        return axes

    body = [
        figures(
            figure("schedule-map", "Power above the least over airspeed and fold; the schedule.",
                   command, drawing),
            said=paragraph(" ".join(document["answer"])),
        ),
        fold_out("Tables and assumptions", _ideal(document), _flown(document),
                 bullets([document["assumed"]])),
    ]  # fmt: skip
    return Section("schedule", "Fold schedule", "".join(body))


def _ideal(document: Any) -> str:
    heads = ["airspeed [m/s]", "best fold [deg]", "power [W]", "within 1 % from [deg]", "to [deg]",
             "active constraint", "flown [deg]", "loss [W]"]  # fmt: skip
    rows = []
    for row in document["ideal"]:
        speed = number(row["airspeed_m_s"], 3)
        if row["fold_deg"] is None:
            rows.append([speed, *["-"] * 4, f"none allowed: {row['forbidden_by']}", "-", "-"])
            continue
        rows.append(
            [speed, number(row["fold_deg"], 3), number(row["electrical_power_W"]),
             number(row["flat_from_deg"], 3), number(row["flat_to_deg"], 3),
             ", ".join(row["active"]), number(row["flown_fold_deg"], 3),
             "outside" if row["flown_outside"] else small(row["flown_loss_W"])]
        )  # fmt: skip
    return table("Fold of least electrical power", heads, rows)


def _flown(document: Any) -> str:
    flown = document["flown"]
    if flown is None:
        return paragraph("No schedule can be flown over the whole range of airspeeds.")
    pairs = zip(flown["airspeed_m_s"], flown["fold_deg"], strict=True)
    words = (
        f"Straight between the breakpoints; speeding up, {flown['hysteresis_m_s']:g} m/s later."
        f" Power above the best fold's: {small(flown['mean_loss_percent'])} % in the mean,"
        f" {small(flown['worst_loss_percent'])} % at worst, at"
        f" {flown['worst_loss_m_s']:.4g} m/s."
    )
    points = [[number(speed), number(fold)] for speed, fold in pairs]
    heads = ["airspeed [m/s]", "fold [deg]"]
    return table("Breakpoints of the schedule as flown", heads, points) + paragraph(words)


def mission(data: ReportData) -> Section | None:
    """Energy of the mission for every way to fly it."""
    document = data.studies.get("mission")
    if document is None:
        return None
    options = f"{data.plan.legs_option} --plot mission.png".strip()
    command = _standing_command(data, "mission", options)

    def drawing(axes: Any) -> Any:
        mission_plots.mission_axes(axes, document)
        axes.set_title("", loc="left")
        return axes

    def saved(axes: Any) -> Any:
        return mission_plots.saving_axes(axes, document)

    even = document["break_even"]
    body = [
        carrying("".join(paragraph(said) for said in mission_answers(document)), [
            figure("mission-saved", "What folding saves against every other way, errors that"
                   " both share left out.", command, saved),
            figure("mission-energy", "Energy by leg for every way to fly the mission.",
                   command, drawing),
        ]),
        fold_out("Break-even, table and assumptions",
                 bullets([f"{against}: {even[key][what]}" for key, against in BREAK_EVEN
                          for what in ("mechanism_mass", "loiter")]),
                 _legs(document), bullets(document["assumed"])),
    ]  # fmt: skip
    return Section("mission", "Mission", "".join(body))


def _legs(document: Any) -> str:
    heads = ["leg", "airspeed [m/s]", "fold [deg]", "time [s]", "energy [Wh]", "battery left [Wh]"]
    keys = ("fold_deg", "time_s", "energy_Wh", "battery_left_Wh")
    rows = [
        [row["leg"], airspeed_words(row), *(number(row[key], 3) for key in keys)]
        for row in document["schedule"]["legs"]
    ]
    return table("The mission along the schedule", heads, rows)


def log(data: ReportData) -> Section | None:
    """Measured power beside the prediction."""
    found = data.studies.get("log")
    if found is None:
        return None
    result, against = found
    assert data.plan.log is not None
    command = data.plan.command("log", f"{data.plan.log.name} --plots pictures", air=False)
    said = answered(result, against)
    reported = [
        f"{data.plan.log.name}: {number(result.log.duration_s / 60.0, 3)} min,"
        f" {len(result.steady.segments)} steady segments, intervals at"
        f" {100.0 * result.plan.level:g} %, density {number(result.density_kg_m3)} kg/m³"
        f" ({result.log.density_source}).",
        *(() if result.model is None else (_climb_words(result.model),)),
        *result.log.tally.sentences(),
    ]
    blocks = []
    if result.binned:
        blocks.append(
            figure("log-power", "Measured power in steady flight over the predicted curves.",
                   command, partial(log_plots.bins_over_curves, result=result, against=against))
        )  # fmt: skip
    blocks += [
        figure(f"log-difference-{i}", f"{opened(item.first)} less {item.second}.", command,
               partial(log_plots.difference_bars, item=item))
        for i, item in enumerate(result.differences) if item.bins
    ]  # fmt: skip
    if against is not None:
        blocks.append(
            figure("log-residuals", "Measured less predicted power against airspeed.", command,
                   partial(log_plots.residual_points, result=result, against=against))
        )  # fmt: skip
    tables = [_bins(name, power) for name, power in result.binned.items()]
    tables += [_differences(item) for item in result.differences if item.bins]
    words = (*said.prediction, *said.differences), (*said.air, *said.next_flight)
    body = [
        carrying("".join(paragraph(" ".join(one)) for one in words), blocks),
        fold_out("What was read, and tables", bullets(reported), *tables),
    ]
    return Section("log", "Flight log", "".join(body))


def _climb_words(model: Any) -> str:
    cost = model.around.cost
    size = plus_minus(cost.value_W_s_m, cost.spread_W_s_m, "W for each m/s")
    if not model.points.climb_seen:
        return f"The log tells no climb; what it may cost ({size}) is in every interval."
    return f"Power is corrected for climb at {size} ({cost.source})."


def _differences(item: Any) -> str:
    heads = ["airspeed [m/s]", "difference [W]", f"{item.first} draws"]
    rows = [
        [number(b.airspeed_m_s, 3), plus_minus(b.difference_W, b.half_width_of_sign_W),
         "not known" if b.first_draws == "unknown" else b.first_draws]
        for b in item.bins
    ]  # fmt: skip
    reported = f"{100.0 * item.level:g} % over all speeds together"
    return table(f"{opened(item.first)} less {item.second}, {reported}", heads, rows)


def _bins(name: str, power_of: Any) -> str:
    heads = ["airspeed [m/s]", "power [W]", "low [W]", "high [W]"]
    rows = [
        [number(b.airspeed_m_s, 3), number(b.power_W), number(b.interval_W[0]),
         number(b.interval_W[1])]
        for b in power_of.bins
    ]  # fmt: skip
    return table(f"Measured power, {name}", heads, rows)
