"""A sweep as a table for people: key numbers against fold, at one angle of attack."""

from typing import Any

import numpy as np

from vlm.show.tables.answer import CAUTION, WIDTH, wrapped
from vlm.show.tables.layout import number, table, with_error
from vlm.study.naming import printed_width

COLUMNS = ("CL", "CDi", "span_efficiency", "Cl", "Cn", "Cl_beta", "Cl_p", "static_margin")
HEADS = {"span_efficiency": "e", "static_margin": "static margin"}
PLACES = {"fold": "fold [deg]", "fold_left": "port [deg]", "fold_right": "starboard [deg]"}
MOST_ROWS = 60


def sweep_table(dataset: Any) -> str:
    """Key numbers of a sweep; with several angles of attack, at the one nearest 4 degrees.

    A long sweep is told by every second case, or every third, and so on.
    """
    chosen = dataset.sel(alpha=4.0, method="nearest").sel(beta=0.0, method="nearest")
    outer = list(chosen["failure"].dims)
    flat = chosen.stack(case=outer)
    count = flat.sizes["case"]
    step = max(1, int(np.ceil(count / MOST_ROWS)))
    rows = [_row(flat.isel(case=i), outer) for i in range(0, count, step)]
    places = [PLACES.get(name, name) for name in outer]
    told = [i for i, name in enumerate(COLUMNS) if not _vanishes(flat, name)]
    skipped = [f"({count} cases; one in {step} is shown)"] if step > 1 else []
    tables = _within_width(places, rows, told)
    return "\n\n".join([_head(chosen), *tables, *skipped])


def _vanishes(flat: Any, name: str) -> bool:
    """Whether a moment is zero by symmetry in all cases."""
    return name in ("Cl", "Cn") and not bool((np.abs(flat[name].fillna(0.0)) > 1e-12).any())


def _within_width(places: list[str], rows: list[list[str]], told: list[int]) -> list[str]:
    """The columns in as few tables as fit the page, each with the case in front."""
    tables: list[str] = []
    taken: list[int] = []

    def drawn(columns: list[int]) -> str:
        heads = [*places, *(HEADS.get(COLUMNS[i], COLUMNS[i]) for i in columns)]
        n = len(places)
        return table(heads, [row[:n] + [row[n + i] for i in columns] for row in rows], left=0)

    for column in told:
        wider = drawn([*taken, column])
        if taken and max(len(line) for line in wider.splitlines()) > WIDTH:
            tables.append(drawn(taken))
            taken = []
        taken.append(column)
    return [*tables, drawn(taken)]


def _head(chosen: Any) -> str:
    said = chosen.attrs
    point = ", ".join(number(float(v)) for v in said["moment_point_m"])
    words = (
        f"Angle of attack {float(chosen['alpha']):g} deg, sideslip {float(chosen['beta']):g} deg;"
        f" reference area {number(said['reference_area_m2'])} m^2, span"
        f" {number(said['reference_span_m'])} m, chord {number(said['reference_chord_m'])} m,"
        f" moment point ({point}) m; per radian. Positive: Cl starboard wing down, Cn nose to"
        " starboard; Cl_beta < 0 is a stable dihedral effect."
    )
    return f"{said['title']}\n{CAUTION}\n\n{wrapped(words)}"


def _row(one: Any, outer: list[str]) -> list[str]:
    place = [f"{float(one[name]):g}" for name in outer]
    if str(one["failure"].item()):
        return place + ["-"] * len(COLUMNS)
    return place + [_cell(one, name) for name in COLUMNS]


def _cell(one: Any, name: str) -> str:
    width = printed_width(one, name)
    value = float(one[name])
    return number(value) if width is None else with_error(value, float(width))
