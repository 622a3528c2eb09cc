"""What studies decide, in one sentence each: the title of a picture, a line of the report."""

from collections.abc import Mapping
from typing import Any

from vlm.show.tables.answer import joined
from vlm.show.tables.layout import number, with_error
from vlm.show.tables.sweep_answer import spans
from vlm.verdicts import SIGN_NOT_KNOWN

Document = Mapping[str, Any]


def levels(document: Document) -> dict[float, Any]:
    """Level flight of a lateral study at each fold that has one."""
    rows = {row["fold_deg"]: row.get("level") or {} for row in document["folds"]}
    return {fold: level for fold, level in rows.items() if "dihedral_effect" in level}


def dihedral_sentence(document: Document, *, unknown: bool = True) -> str:
    """Where the dihedral effect is unstable, stable and, if wanted, not known; may be empty."""
    found = levels(document)
    texts = []
    for word in ("unstable", "stable", *((SIGN_NOT_KNOWN,) if unknown else ())):
        folds = [fold for fold, level in found.items() if level["dihedral_effect"] == word]
        if folds:
            texts.append(f"{word} at {spans(folds, list(found))}")
    return f"Dihedral effect in level flight: {', '.join(texts)}." if texts else ""


def hinge_sentence(document: Document) -> str:
    """The largest moment about a hinge; empty where there is no moment."""
    rows = [row for row in document["moments"] if "reason" not in row]
    if not rows:
        return ""

    def largest(row: Document) -> float:
        hinge = row["hinges"][row["most_loaded_hinge"]]
        return abs(float(hinge["worst_N_m"])) + float(hinge["half_width_N_m"] or 0.0)

    worst = max(rows, key=largest)
    hinge = worst["hinges"][worst["most_loaded_hinge"]]
    moment = with_error(abs(hinge["worst_N_m"]), hinge["half_width_N_m"])
    share = worst.get("share_of_hinge_limit")
    counted = "" if hinge["half_width_N_m"] is None else ", ± included"
    limit = "" if share is None else f": {100.0 * share:.0f} % of the hinge's limit{counted}"
    return (
        f"Largest hinge moment {moment} N m, at {worst['fold_deg']:.3g}°,"
        f" {worst['airspeed_m_s']:g} m/s and load factor"
        f" {number(worst['reached_load_factor'], 2)}{limit}."
    )


def servo_sentence(document: Document) -> str:
    """Up to which airspeed the servo moves a tip; empty where that is not limited."""
    moved = [
        f"{found['airspeed_m_s']:.0f} m/s with a {name} worm"
        for name, found in (document["limits"].get("moved") or {}).items()
        if found and found["airspeed_m_s"] is not None
    ]
    return f"The servo moves a tip up to {joined(moved)}." if moved else ""


def roll_sentence(document: Document) -> str:
    """The strongest pair of folds and what it gives; empty where none can be flown."""
    pair = document["strongest"]
    if not pair:
        return ""
    parts = [pair.get(f"rolling_moment_{kind}_N_m") for kind in ("error", "spread")]
    width = None if None in parts else sum(part for part in parts if part is not None)
    moment = with_error(pair["rolling_moment_N_m"], width)
    sense = f" ({SIGN_NOT_KNOWN})" if pair["sense"] == SIGN_NOT_KNOWN else f" {pair['sense']}"
    rate = with_error(pair["roll_rate_deg_s"], pair["roll_rate_half_width_deg_s"])
    return (
        f"Strongest roll: port {pair['left_deg']:.3g}°, starboard {pair['right_deg']:.3g}° give"
        f" {moment} N m{sense}, steadily {rate} °/s, lift held."
    )
