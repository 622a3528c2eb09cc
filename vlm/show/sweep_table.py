"""A sweep as a table for people: key numbers against fold, at one angle of attack."""

from typing import Any

import numpy as np

from vlm.cautions import SHORT_CAUTION
from vlm.show.tables import number, table, with_error

COLUMNS = ("CL", "CDi", "span_efficiency", "Cl", "Cn", "Cl_beta", "Cl_p", "static_margin")
HEADS = {"span_efficiency": "e", "static_margin": "static margin", "Cl_beta": "Cl_beta [1/rad]"}
MOST_ROWS = 60


def sweep_table(dataset: Any) -> str:
    """Key numbers of a sweep; with several angles of attack, at the one nearest 4 degrees."""
    chosen = dataset.sel(alpha=4.0, method="nearest").sel(beta=0.0, method="nearest")
    outer = list(chosen["failure"].dims)
    flat = chosen.stack(case=outer)
    rows = []
    for i in range(flat.sizes["case"]):
        one = flat.isel(case=i)
        place = [f"{float(one[name]):g}" for name in outer]
        if str(one["failure"].item()):
            rows.append(place + ["-"] * len(COLUMNS))
            continue
        values = [_cell(one, name) for name in COLUMNS]
        rows.append(place + values)
    cut = rows if len(rows) <= MOST_ROWS else rows[:: int(np.ceil(len(rows) / MOST_ROWS))]
    attributes = dataset.attrs
    head = (
        f"{attributes['title']}\nangle of attack {float(chosen['alpha']):g} deg, sideslip"
        f" {float(chosen['beta']):g} deg; reference area"
        f" {number(attributes['reference_area_m2'])} m^2, span"
        f" {number(attributes['reference_span_m'])} m, chord"
        f" {number(attributes['reference_chord_m'])} m, moment point"
        f" ({', '.join(number(float(v)) for v in attributes['moment_point_m'])}) m\n"
        "Cl positive starboard wing down, Cn nose to starboard; Cl_beta < 0 is a stable dihedral"
        " effect\n"
    )
    heads = [*(f"{name} [deg]" if "fold" in name else name for name in outer)]
    heads += [HEADS.get(name, name) for name in COLUMNS]
    skipped = (
        ""
        if len(cut) == len(rows)
        else f"\n({len(rows)} cases; every {len(rows) // len(cut) + 1}th shown)"
    )
    return f"{head}\n{table(heads, cut, left=0)}{skipped}\n\n{SHORT_CAUTION}"


def _cell(one: Any, name: str) -> str:
    error = f"{name}_error"
    value = float(one[name])
    return with_error(value, float(one[error])) if error in one else number(value)
