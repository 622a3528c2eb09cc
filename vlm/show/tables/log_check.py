"""What the columns of a log seem to be, for people."""

import math

from vlm.log.proposing import Proposal, SeenColumn, unusual_ranges
from vlm.show.text.layout import number, section, table


def check_table(found: Proposal) -> str:
    """Columns with rate, range and gaps, and the block that fits, as text of 80 columns."""
    heads = ["column", "taken for", "unit", "per s", "from", "to", "longest gap, s"]
    rows = [_row(column) for column in found.columns]
    blocks = [section("Columns", table(heads, rows, left=3))]
    blocks.append(section("The block [log] that fits", found.block.rstrip()))
    open_ = [*found.missing, *unusual_ranges(found.columns)]
    if open_:
        blocks.append(section("To be said or checked by you", "\n".join(f"- {x}" for x in open_)))
    return "\n".join(blocks)


def _row(column: SeenColumn) -> list[str]:
    span = [number(column.low, 4), number(column.high, 4)]
    if column.labels:
        span = [", ".join(column.labels)[:16], ""]
    gap = "-" if math.isnan(column.longest_gap_s) else number(column.longest_gap_s, 3)
    return [
        column.name[:20],
        column.key or "not used",
        column.unit or "-",
        number(column.rate_Hz, 3),
        *span,
        gap,
    ]
