"""Labelled arrays from rows of a study's document: xarray datasets with units and meanings."""

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from vlm.cautions import SHORT_CAUTION
from vlm.quantities import QUANTITIES, unit_of
from vlm.sides import Side

if TYPE_CHECKING:
    import xarray as xr

    from vlm.study.compare.results import Comparison


def gridded(rows: Sequence[Mapping[str, Any]], axes: Sequence[str]) -> "xr.Dataset":
    """A dataset over some columns of rows; what is no number, text or truth is left out.

    Parameters
    ----------
    rows : of a study's document
    axes : columns that become dimensions, one row to each combination that is there
    """
    import pandas as pd

    kept = [{key: cell for key, cell in row.items() if _plain(cell)} for row in rows]
    frame = pd.DataFrame(kept).set_index(list(axes))
    for name in frame.columns:
        if all(cell is None or isinstance(cell, int | float) for cell in frame[name]):
            frame[name] = frame[name].astype(float)
    return _labelled(frame.to_xarray())


def strip_dataset(strips: Sequence[Mapping[str, Any]]) -> "xr.Dataset":
    """Strip loads over ``strip``, in the order of the document."""
    rows = [{"strip": number, **strip} for number, strip in enumerate(strips)]
    return gridded(rows, ["strip"]).set_coords(["wing", "side", "part", "y_m", "z_m"])


def fold_map_dataset(values: Mapping[str, Any]) -> "xr.Dataset":
    """A map over port and starboard folds."""
    import xarray as xr

    size = len(values["left_deg"]), len(values["right_deg"])
    # A row that holds no number is None, and so a table of objects.
    tables = {name: np.array(table) for name, table in values.items() if name != "failures"}
    data = {
        name: (_pair(), table if table.dtype == bool else table.astype(float))
        for name, table in tables.items()
        if table.shape == size
    }
    axes = {_axis(side): values[f"{side}_deg"] for side in Side}
    return _labelled(xr.Dataset(data, axes))


def lateral_dataset(folds: Sequence[Mapping[str, Any]]) -> "xr.Dataset":
    """Derivatives over fold and angle of attack, in body axes and, with that ending, stability."""
    rows = []
    for fold in folds:
        for at in fold["alphas"]:
            row = {"fold_deg": fold["fold_deg"], "joined": fold["joined"], **at}
            row |= at["body"]
            row |= {f"{name}_stability": value for name, value in at["stability"].items()}
            for ending, group in (("error", "errors"), ("spread", "spread")):
                row |= {f"{name}_{ending}": value for name, value in (at[group] or {}).items()}
            rows.append(row)
    return gridded(rows, ["fold_deg", "alpha_deg"])


def hinge_dataset(moments: Sequence[Mapping[str, Any]]) -> "xr.Dataset":
    """Moments about every hinge over fold, airspeed and load factor."""
    rows = []
    for at in moments:
        for name, hinge in at.get("hinges", {}).items():
            rows.append({**at, "hinge": name, **hinge})
    axes = ["fold_deg", "airspeed_m_s", "load_factor", "hinge"]
    return gridded(rows, axes)


def comparison_dataset(comparison: "Comparison") -> "xr.Dataset":
    """Numbers over ``entry``, their differences from the first, and the half-widths of both."""
    import xarray as xr

    data = {}
    for number in comparison.numbers:
        kind = number.kind
        parts = {"": number.values, "difference_": number.differences}
        for lead, known in parts.items():
            about = {"units": kind.unit, "long_name": f"{lead.replace('_', ' of ')}{kind.words}"}
            values = [np.nan if one.value is None else one.value for one in known]
            widths = [np.nan if one.half_width is None else one.half_width for one in known]
            data[f"{lead}{kind.key}"] = ("entry", values, about)
            about = about | {"long_name": f"half-width of {about['long_name']}"}
            data[f"{lead}half_width_{kind.key}"] = ("entry", widths, about)
    names = [entry.name for entry in comparison.entries]
    return xr.Dataset(data, {"entry": names}, {"caution": SHORT_CAUTION})


def _pair() -> tuple[str, str]:
    return _axis(Side.PORT), _axis(Side.STARBOARD)


def _axis(side: Side) -> str:
    return f"fold_{side}_deg"


def _plain(cell: object) -> bool:
    return cell is None or isinstance(cell, int | float | str)


def _labelled(dataset: "xr.Dataset") -> "xr.Dataset":
    """Units and meanings at every number, and the caution."""
    for name, values in dataset.variables.items():
        key = str(name)
        if values.dtype.kind not in "fiu":
            continue
        if key in QUANTITIES:
            values.attrs.update(QUANTITIES[key].attributes)
        else:
            values.attrs["units"] = unit_of(key) or "1"
    dataset.attrs["caution"] = SHORT_CAUTION
    return dataset
