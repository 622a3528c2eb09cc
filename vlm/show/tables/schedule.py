"""A fold schedule as text, within 80 columns: the answer, the best folds, what is flown."""

from collections.abc import Mapping, Sequence

from vlm.findings import Finding
from vlm.show.text.answer import framed, wrapped
from vlm.show.text.layout import number, section, small, table
from vlm.study.schedule.document import FlownBetween, FlownDocument, ScheduleDocument, ScheduleRow


def schedule_table(document: ScheduleDocument, *, full: bool = False) -> str:
    """The document of ``foldspan schedule`` for people.

    Parameters
    ----------
    full : with the margin of every constraint, and the airspeeds between
    """
    blocks = [_best(document)]
    flown = document["flown"]
    if flown is not None:
        blocks.append(_flown(document, flown))
    blocks.append(_margins(document, full=full))
    return framed(
        f"{document['title']}: fold schedule, level flight",
        document["answer"],
        [block.rstrip() for block in blocks],
        [Finding(**one) for one in document["findings"]],
        document["assumed"],
        [] if full else None,
        "--full, --json, --plot, --csv",
    )


def _best(document: ScheduleDocument) -> str:
    heads = ["m/s", "fold, deg", "power, W", "within 1 %, deg", "active constraint"]
    rows = []
    for row in document["ideal"]:
        speed = number(row["airspeed_m_s"], 3)
        if row["fold_deg"] is None:
            rows.append([speed, "-", "-", "-", f"none allowed: {row['forbidden_by']}"])
            continue
        ends = dict.fromkeys(f"{row[key]:z.1f}" for key in ("flat_from_deg", "flat_to_deg"))
        flat = " to ".join(ends)
        ties = "".join(f" and about {tie:z.0f}" for tie in row["ties_deg"])
        rows.append(
            [speed, f"{row['fold_deg']:z.1f}", number(row["electrical_power_W"]), flat + ties,
             ", ".join(row["active"]) or "-"]
        )  # fmt: skip
    return section("Best fold, solved at that very fold; positive raises the tips",
                   table(heads, rows, left=0))  # fmt: skip


def _flown(document: ScheduleDocument, flown: FlownDocument) -> str:
    pairs = zip(flown["airspeed_m_s"], flown["fold_deg"], strict=True)
    points = "; ".join(f"{fold:z.2f} deg at {speed:.4g} m/s" for speed, fold in pairs)
    heads = ["m/s", "slowing, deg", "speeding, deg", "power, W", "loss, W", "outside"]
    rows = [_flown_cells(row) for row in document["ideal"]]
    rows += [_flown_cells(row) for row in flown["between"] if row["flown_outside"]]
    loss = ""
    if flown["mean_loss_percent"] is not None:
        loss = (
            f" Power above the best fold's: {small(flown['mean_loss_percent'])} % in the mean,"
            f" {small(flown['worst_loss_percent'])} % at worst, at"
            f" {flown['worst_loss_m_s']:.4g} m/s (half-way between airspeeds counts too)."
        )
    words = (
        f"Breakpoints: {points}. Speeding up, {flown['hysteresis_m_s']:.4g} m/s later. Valid from"
        f" {flown['valid_from_m_s']:g} to {flown['valid_to_m_s']:.4g} m/s.{loss}"
    )
    return section("As flown: straight between the breakpoints",
                   f"{table(heads, rows, left=0)}\n{wrapped(words)}")  # fmt: skip


def _flown_cells(row: ScheduleRow | FlownBetween) -> list[str]:
    return [
        number(row["airspeed_m_s"], 4),
        f"{row['flown_fold_deg']:z.1f}",
        f"{row['flown_fold_speeding_deg']:z.1f}",
        number(row["flown_power_W"]),
        small(row["flown_loss_W"]),
        ", ".join(row["flown_passes"]) or "-",
    ]


def _margins(document: ScheduleDocument, *, full: bool) -> str:
    """Least margin over all airspeeds, or with ``full`` the margins of each."""
    return _all_margins(document) if full else _least_margins(document)


def _all_margins(document: ScheduleDocument) -> str:
    flown, ideal = document["flown"], document["ideal"]
    best = [(row["airspeed_m_s"], row["margins"]) for row in ideal]
    kept = [(row["airspeed_m_s"], row["flown_margins"]) for row in ideal]
    if flown is not None:
        kept += [(row["airspeed_m_s"], row["flown_margins"]) for row in flown["between"]]
    blocks = [
        section(f"Margins {what}, solved directly", _margins_by_airspeed(rows, document))
        for what, rows in (("of the best fold", best), ("as flown", kept))
        if any(margins for _, margins in rows)
    ]
    return "\n".join(blocks)


def _margins_by_airspeed(
    rows: Sequence[tuple[float, Mapping[str, float]]], document: ScheduleDocument
) -> str:
    units = document["margin_units"]
    heads = ["m/s", *(f"{name} [{unit}]" for name, unit in units.items())]
    lines = [
        [number(speed, 4), *(number(margins.get(name), 3) for name in units)]
        for speed, margins in sorted(rows, key=lambda row: row[0])
        if margins
    ]
    return table(heads, lines, left=0)


def _least_margins(document: ScheduleDocument) -> str:
    flown = document["flown"]
    ideal = [row for row in document["ideal"] if _counts(row, flown)]
    best = [(row["airspeed_m_s"], row["margins"]) for row in ideal]
    kept = [(row["airspeed_m_s"], row["flown_margins"]) for row in ideal]
    if flown is not None:
        kept += [(row["airspeed_m_s"], row["flown_margins"])
                 for row in flown["between"] if _counts(row, flown)]  # fmt: skip
    lines = [
        [name, _least(name, best), _least(name, kept), unit]
        for name, unit in document["margin_units"].items()
    ]
    heads = ["constraint", "best fold, at m/s", "as flown, at m/s", "unit"]
    return section("Least margins, solved directly", table(heads, lines, left=1))


def _least(name: str, rows: Sequence[tuple[float, Mapping[str, float]]]) -> str:
    known = [(margins[name], speed) for speed, margins in rows if margins.get(name) is not None]
    if not known:
        return "-"
    least = min(known)
    return f"{'< 1e-4' if 0.0 < least[0] < 1e-4 else number(least[0], 3)} at {least[1]:.4g}"


def _counts(row: ScheduleRow | FlownBetween, flown: FlownDocument | None) -> bool:
    """Whether an airspeed lies where the schedule is valid."""
    if flown is None:
        return True
    return bool(flown["valid_from_m_s"] <= row["airspeed_m_s"] <= flown["valid_to_m_s"])
