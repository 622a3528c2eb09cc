"""A search of the design as text."""

from vlm.findings import Finding
from vlm.plain import plus_minus
from vlm.show.text.answer import framed, listed, wrapped
from vlm.show.text.layout import fitted, number, section, table
from vlm.study.design.report import DesignDocument, WorthDocument
from vlm.study.design.words import LEAST_HALF

LEAST_CHANGE = 1e-4
"""Change of the goal that is shown as none [%]."""
FIXED = {
    "open": "flat, no mechanism",
    "closed": "lowest fold, no mechanism",
    "own": "its own fold, no mechanism",
}


def design_table(document: DesignDocument, *, full: bool = False) -> str:
    """The document of ``foldspan design`` for people, within 80 columns.

    Parameters
    ----------
    full : with where each start led, and what was assumed
    """
    speed = document["airspeed_m_s"]
    at = ""
    if document["goal"] == "energy":
        at = " of the mission"
    if speed is not None and document["goal"] not in ("energy", "span efficiency"):
        at = f" at {number(speed, 3)} m/s"
    title = (
        f"{document['title']}: design for the {document['sought']} {document['goal']}{at}, tips"
        f" {document['fold']}"
    )
    answer = ["STOPPED before its end: the best so far."] if document["stopped"] else []
    blocks = []
    best, present = document["best"], document["present"]
    if best is not None and present is not None:
        blocks += [section("The best design", _best(document, best))]
        blocks += [section("Against it", _against(document, present))]
    if document["sensitivity"]:
        blocks.append(section("Around the best", _sensitivity(document)))
    blocks.append(section("Designs", _designs(document)))
    return framed(
        title,
        [*answer, *document["answer"]],
        [block.rstrip() for block in blocks],
        [Finding(**one) for one in document["findings"]],
        "; ".join(document["assumed"][:1]),
        _full(document) if full else None,
    )


def _full(document: DesignDocument) -> list[str]:
    """Where each start led, and what the search rests on."""
    ends = [section("Where each start led", _ends(document)).rstrip()] if document["ends"] else []
    return [*ends, listed("Assumed", [*document["assumed"], *document["follows"]])]


def _best(document: DesignDocument, best: WorthDocument) -> str:
    heads = ["key", "from", "to", "in the file", "best", "at a bound"]
    rows = [
        [row["key"], *(_plain(row[name]) for name in ("low", "high", "present", "best")),
         row["bound"] or "no"]
        for row in document["keys"]
    ]  # fmt: skip
    unit = "" if document["unit"] == "1" else f" {document['unit']}"
    mass = "" if best["mass_kg"] is None else f", craft {number(best['mass_kg'])} kg"
    lines = [
        table(heads, rows),
        f"{document['goal']} {number(best['value'], 5)}{unit}{mass}, {_folds(best)}",
        f"active constraint: {', '.join(best['active']) or 'none'}",
    ]
    return "\n".join(lines)


def _plain(value: float | None) -> str:
    """A key's value without zeros behind; words where the file has none."""
    return "none" if value is None else f"{value:.4g}"


def _folds(worth: WorthDocument) -> str:
    low, high = worth["fold_from_deg"], worth["fold_to_deg"]
    if low is None or high is None:
        return "no fold"
    return f"fold {low:.1f} deg" if high - low < 0.1 else f"folds {low:.1f} to {high:.1f} deg"


def _against(document: DesignDocument, present: WorthDocument) -> str:
    heads = ["craft", f"{document['goal']}, {document['unit']}", "kg", "best is better by"]
    half = document["better_half_width_percent"]
    rows = [_row("as in the file", present, document["better_percent"], half)]
    rows += [
        _row(f"best, {FIXED[row['way']]}", row, row["best_is_better_percent"])
        for row in document["fixed"]
    ]
    reasons = []
    if present["reason"]:
        reasons.append(wrapped(f"- as in the file, not allowed: {present['reason']}", "  "))
    reasons += [
        wrapped(f"- {FIXED[row['way']]}, not allowed: {row['reason']}", "  ")
        for row in document["fixed"]
        if row["reason"]
    ]
    return "\n".join([table(heads, rows), *reasons])


def _row(
    name: str, worth: WorthDocument, better: float | None, half: float | None = None
) -> list[str]:
    if worth["value"] is None:
        return [name, "none", number(worth["mass_kg"]), ""]
    percent = "" if better is None else f"{better:z.1f} %"
    if better is not None and half is not None:
        percent = plus_minus(better, max(half, LEAST_HALF), "%")
    return [name, number(worth["value"], 5), number(worth["mass_kg"]), percent]


def _ends(document: DesignDocument) -> str:
    names = [row["key"] for row in document["keys"]]
    heads = ["start", *(f"{n} from" for n in names), *(f"{n} to" for n in names),
             f"{document['goal']} [{document['unit']}]", "designs"]  # fmt: skip
    rows = []
    for index, end in enumerate(document["ends"]):
        rows.append(
            [str(index + 1), *(number(end["start"][n]) for n in names),
             *(number(end["end"][n]) for n in names), number(end["value"], 5),
             str(end["evaluations"])]
        )  # fmt: skip
    text = fitted(heads, rows)
    if not all(end["converged"] for end in document["ends"]):
        text += "\nSome starts had no more designs before they converged: raise --most."
    return text


def _sensitivity(document: DesignDocument) -> str:
    goal = document["goal"]
    heads = ["key", "step", f"{goal}, %", "% per", ""]
    rows = []
    for row in document["sensitivity"]:
        if row["goal_percent"] is None:
            rows.append([row["key"], f"{row['step']:+.3g}", "", "", row["reason"]])
            continue
        rows.append(
            [row["key"], f"{row['step']:+.3g}", _change(row["goal_percent"]),
             _change(row["goal_percent_per"]), row["per"]]
        )  # fmt: skip
    better = "below" if document["sought"] == "lowest" else "above"
    note = f"change of the {goal} a step from the best; {better} zero is better"
    return f"{table(heads, rows)}\n{wrapped(note)}"


def _change(percent: float | None) -> str:
    """A change in per cent to three digits, so that neighbours can be told apart."""
    if percent is None:
        return ""
    shown = number(percent, 3) if abs(percent) >= LEAST_CHANGE else "0"
    return shown if shown.startswith(("-", "0")) and float(shown) <= 0.0 else f"+{shown}"


def _designs(document: DesignDocument) -> str:
    unit = "" if document["unit"] == "1" else f" {document['unit']}"
    known = document["noise"] is not None
    noise = f"; noise of the goal {number(document['noise'], 2)}{unit}" if known else ""
    kept = f", {document['recalled']} taken from those kept" if document["recalled"] else ""
    lines = [f"{document['worked_out']} worked out{kept}{noise}"]
    lines += [
        wrapped(f"- {row['designs']} not allowed: {row['reason']}", "  ")
        for row in document["failures"]
    ]
    return "\n".join(lines)
