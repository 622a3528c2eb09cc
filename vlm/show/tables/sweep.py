"""A sweep as a table for people: key numbers against fold, at one angle of attack."""

from typing import Any

import numpy as np

from vlm.cautions import SHORT_CAUTION
from vlm.show.tables.layout import number, table, with_error
from vlm.study.naming import printed_width

COLUMNS = ("CL", "CDi", "span_efficiency", "Cl", "Cn", "Cl_beta", "Cl_p", "static_margin")
HEADS = {"span_efficiency": "e", "static_margin": "static margin", "Cl_beta": "Cl_beta [1/rad]"}
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
    heads = [*(f"{name} [deg]" if "fold" in name else name for name in outer)]
    heads += [HEADS.get(name, name) for name in COLUMNS]
    skipped = "" if step == 1 else f"\n({count} cases; one in {step} is shown)"
    return f"{_head(chosen)}\n{table(heads, rows, left=0)}{skipped}\n\n{SHORT_CAUTION}"


def _head(chosen: Any) -> str:
    said = chosen.attrs
    point = ", ".join(number(float(v)) for v in said["moment_point_m"])
    return (
        f"{said['title']}\nangle of attack {float(chosen['alpha']):g} deg, sideslip"
        f" {float(chosen['beta']):g} deg; reference area {number(said['reference_area_m2'])} m^2,"
        f" span {number(said['reference_span_m'])} m, chord {number(said['reference_chord_m'])} m,"
        f" moment point ({point}) m\n"
        "Cl positive starboard wing down, Cn nose to starboard; Cl_beta < 0 is a stable dihedral"
        " effect\n"
    )


def _row(one: Any, outer: list[str]) -> list[str]:
    place = [f"{float(one[name]):g}" for name in outer]
    if str(one["failure"].item()):
        return place + ["-"] * len(COLUMNS)
    return place + [_cell(one, name) for name in COLUMNS]


def _cell(one: Any, name: str) -> str:
    width = printed_width(one, name)
    value = float(one[name])
    return number(value) if width is None else with_error(value, float(width))
