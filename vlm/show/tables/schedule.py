"""A fold schedule as text."""

from typing import Any

from vlm.show.tables.layout import number, section, small, table


def schedule_table(document: dict[str, Any]) -> str:
    """The document of ``foldspan schedule`` for people."""
    heads = ["airspeed [m/s]", "best fold [deg]", "power [W]", "by direct trim [W]",
             "within 1 % [deg]", "held back by", "flown [deg]", "loss [W]"]  # fmt: skip
    rows = [_cells(row) for row in document["ideal"]]
    blocks = [
        f"{document['title']}\nfold of both sides, positive raises the tips\n",
        section("Fold of least electrical power", table(heads, rows, left=0)),
    ]
    flown = document["flown"]
    if flown is not None:
        pairs = zip(flown["airspeed_m_s"], flown["fold_deg"], strict=True)
        points = table(
            ["airspeed [m/s]", "fold [deg]"], [[number(s), number(f)] for s, f in pairs], left=0
        )
        blocks.append(
            section(
                "Schedule as flown: straight between the breakpoints",
                f"{points}\nspeeding up, {flown['hysteresis_m_s']:g} m/s later; power above the"
                f" ideal: {small(flown['mean_loss_percent'])} % in the mean,"
                f" {small(flown['worst_loss_percent'])} % at worst",
            )
        )
    return "\n".join([*blocks, f"Assumed: {document['assumed']}.", document["caution"]])


def _cells(row: dict[str, Any]) -> list[str]:
    if row["fold_deg"] is None:
        reason = f"none allowed: {row['forbidden_by']}"
        return [number(row["airspeed_m_s"], 3), "-", "-", "-", "-", reason, "-", "-"]
    flat = f"{number(row['flat_from_deg'], 3)} to {number(row['flat_to_deg'], 3)}"
    ties = "".join(f"; also near {tie:.0f}" for tie in row["ties_deg"])
    loss = "outside" if row["flown_outside"] else small(row["flown_loss_W"])
    return [
        number(row["airspeed_m_s"], 3),
        number(row["fold_deg"], 3),
        number(row["electrical_power_W"]),
        number(row["direct_power_W"]),
        flat + ties,
        ", ".join(row["active"]) or "-",
        number(row["flown_fold_deg"], 3),
        loss,
    ]
