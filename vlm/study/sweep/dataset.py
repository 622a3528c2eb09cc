"""A sweep's results as a labelled dataset, saved as NetCDF or CSV."""

import json
from collections.abc import Mapping
from dataclasses import asdict
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, NotRequired, TypedDict

import numpy as np

import vlm
from vlm.cautions import SHORT_CAUTION
from vlm.description.models import Biplane
from vlm.description.ranges import craft_range_findings
from vlm.disk import temporary_folder, write_whole
from vlm.errors import InputRefused
from vlm.findings import Finding, gathered
from vlm.lattice.cellule import build_cellule
from vlm.plain import Shown, plain_cell, without_nan
from vlm.study.point.validity import state_warnings
from vlm.study.sweep.carried_tables import carried_tables
from vlm.study.sweep.cases import findings_of
from vlm.study.sweep.foreign import held_in
from vlm.study.sweep.naming import described
from vlm.study.sweep.plan import SweepPlan, as_document
from vlm.study.sweep.rotors_counted import rotor_findings, with_rotors_counted
from vlm.study.sweep.running import Results

if TYPE_CHECKING:
    import xarray as xr


def sweep_dataset(craft: Biplane, plan: SweepPlan, results: Results) -> "xr.Dataset":
    """Gather the results of every case into one dataset.

    A case that failed holds no numbers; ``failure`` says why.
    """
    import xarray as xr

    results = with_rotors_counted(craft, plan, results)
    solved = [values for values in results.values() if "failure" not in values]
    names = sorted({name for values in solved for name in values} - {"findings"})
    inner = (len(plan.alphas_deg), len(plan.betas_deg))
    data: dict[str, Any] = {}
    for name in names:
        table = np.full((*plan.outer_shape, *inner), np.nan)
        for place, values in results.items():
            if name in values:
                table[place] = values[name]
        dims = [axis for axis, _ in plan.axes]
        if name in ("condition", "residual"):
            table, dims = table[..., 0, 0], dims[:-2]
        data[name] = (dims, table, described(name))
    failures = np.full(plan.outer_shape, "", dtype=object)
    for place, values in results.items():
        failures[place] = values.get("failure", "")
    outer = [axis for axis, _ in plan.outer_axes]
    data["failure"] = (outer, failures.astype(str), {"long_name": "why a case has no numbers"})
    keys = {axis.name: axis.key for axis in plan.keys}
    coordinates = {
        name: (name, list(values), described(keys.get(name, name))) for name, values in plan.axes
    }
    dataset = xr.Dataset(data, coordinates)
    found = findings_of([results[place] for place in sorted(results)]) + rotor_findings(dataset)
    return dataset.assign_attrs(_attributes(craft, plan, found))


def _attributes(craft: Biplane, plan: SweepPlan, found: list[Finding]) -> dict[str, Any]:
    reference = build_cellule(craft, plan.grid).reference
    findings = gathered(found + state_warnings(plan.state()) + craft_range_findings(craft))
    return {
        "title": craft.title,
        "source": f"foldspan {vlm.__version__}",
        "caution": SHORT_CAUTION,
        "geometry": craft.to_toml(),
        "tables": json.dumps(carried_tables(craft)),
        "plan": json.dumps(as_document(plan)),
        "digest": plan.digest(craft),
        "findings": json.dumps([asdict(finding) for finding in findings]),
        "reference_area_m2": reference.area,
        "reference_span_m": reference.span,
        "reference_chord_m": reference.chord,
        "moment_point_m": [float(v) for v in reference.moment_point],
        "airspeed_m_s": plan.airspeed,
        "density_kg_m3": plan.density,
    }


def checked_output(path: Path) -> Path:
    """The path, if a dataset can be written there.

    Raises
    ------
    InputRefused : another ending than .nc, .csv or .parquet, no pyarrow, or no such folder
    """
    if path.suffix not in (".nc", ".csv", ".parquet"):
        raise InputRefused(f"--out {path}; the ending must be .nc (NetCDF), .csv or .parquet")
    if path.suffix == ".parquet" and find_spec("pyarrow") is None:
        raise InputRefused(
            f"--out {path}; Parquet needs pyarrow: pip install pyarrow, or write .nc or .csv"
        )
    if not path.parent.is_dir():
        raise InputRefused(f"--out {path}; there is no folder {path.parent}")
    return path


def as_netcdf(dataset: "xr.Dataset") -> bytes:
    """A dataset as a file of NetCDF-4; where there is no number, there is NaN.

    By way of a file: of files in memory HDF5 2.0 cannot close some ("read only entry modified"),
    and ends the process after that. Coordinates go first: written last they would be taken out of
    every variable that stands there and put in again, a fifth of the time.
    """
    variables = _finite(dataset).data_vars
    ordered = dataset.drop_vars(list(variables)).assign(variables)
    with temporary_folder() as folder:
        ordered.to_netcdf(folder / "dataset.nc", engine="h5netcdf")
        return (folder / "dataset.nc").read_bytes()


def _finite(dataset: "xr.Dataset") -> "xr.Dataset":
    """The dataset with NaN for infinities: both stand for what has no number."""
    changed = {
        name: (variable.dims, np.where(np.isfinite(variable), variable, np.nan), variable.attrs)
        for name, variable in dataset.data_vars.items()
        if variable.dtype.kind == "f" and np.isinf(variable).any()
    }
    return dataset.assign(changed) if changed else dataset


def save_dataset(dataset: "xr.Dataset", path: Path) -> None:
    """Write a dataset whole or not at all, as its ending says.

    Raises
    ------
    InputRefused : the ending or the folder is wrong
    """
    checked_output(path)
    if path.suffix == ".nc":
        write_whole(path, as_netcdf(dataset))
        return
    frame = _finite(dataset).to_dataframe().reset_index()
    if path.suffix == ".parquet":
        write_whole(path, as_parquet(frame, dataset))
        return
    for name in frame.select_dtypes(exclude="number"):
        frame[name] = [plain_cell(value) for value in frame[name]]
    lines = [f"# {key}: {line}" for key, line in _csv_header(dataset.attrs)]
    text = "\n".join(lines) + "\n" + frame.to_csv(index=False)
    write_whole(path, text.encode())


def as_parquet(frame: Any, dataset: "xr.Dataset") -> bytes:
    """A table as a Parquet file, the dataset's attributes and those of its variables beside it.

    Parameters
    ----------
    frame : one row a case, as a pandas table
    """
    from io import BytesIO

    said = {name: dict(dataset[name].attrs) for name in frame.columns if name in dataset.variables}
    frame.attrs = {"attributes": _plain(dataset.attrs), "variables": _plain(said)}
    stream = BytesIO()
    frame.to_parquet(stream, engine="pyarrow", index=False)
    return stream.getvalue()


def _plain(value: Any) -> Any:
    return json.loads(json.dumps(value, default=lambda one: np.asarray(one).tolist()))


def _csv_header(attributes: Mapping[str, Any]) -> list[tuple[str, str]]:
    """What a CSV file says about itself before its column names."""
    kept = ("title", "source", "caution", "reference_area_m2", "reference_span_m",
            "reference_chord_m", "moment_point_m", "airspeed_m_s", "density_kg_m3")  # fmt: skip
    return [(key, str(attributes[key])) for key in kept if key in attributes]


def load_dataset(path: Path) -> "xr.Dataset":
    """Read a dataset that :func:`save_dataset` wrote as NetCDF, whoever may have changed it since.

    Raises
    ------
    InputRefused : there is no such file, or it is no such dataset
    """
    import xarray as xr

    found = held_in(path)
    for name in ("plan", "geometry", "source", "digest"):
        if not found.text(name):
            raise InputRefused(f"{path}: not written by foldspan sweep (no text {name!r} in it)")
    data: dict[str, Any] = {}
    coordinates: dict[str, Any] = {}
    for name, variable in found.variables.items():
        values = variable.values
        said = {k: v for k, v in variable.attributes.items() if k != "_FillValue"}
        kept = values.astype(str) if values.dtype.kind == "O" else values
        group = coordinates if variable.dims == (name,) else data
        group[name] = (variable.dims, kept, said)
    return xr.Dataset(data, coordinates, dict(found.attributes))


class SweepAttributes(TypedDict):
    """What the numbers rest on; the same as in the dataset.

    Attributes
    ----------
    geometry, tables : the geometry file and the tables that it names, as text
    plan, findings : as text, JSON
    digest : of geometry and plan
    """

    title: str
    source: str
    caution: str
    geometry: str
    tables: str
    plan: str
    digest: str
    findings: str
    reference_area_m2: float
    reference_span_m: float
    reference_chord_m: float
    moment_point_m: list[float]
    airspeed_m_s: float
    density_kg_m3: float


class SweepVariable(TypedDict):
    """One quantity over all cases.

    Attributes
    ----------
    dims : names of its dimensions, each a coordinate
    values : nested lists, null where a case has no numbers; texts for "failure"
    units, long_name, positive_means : what it is
    """

    dims: list[str]
    values: list[Any]
    long_name: NotRequired[str]
    units: NotRequired[str]
    positive_means: NotRequired[str]


class SweepDocument(TypedDict):
    """Loads over folds, angles and keys of the file, as a labelled dataset.

    Attributes
    ----------
    coordinates : of every dimension, by name; their units stand in the dataset
    variables : by quantity
    """

    attributes: Annotated[dict[str, Any], Shown(SweepAttributes)]
    coordinates: dict[str, list[Any]]
    variables: dict[str, Annotated[dict[str, Any], Shown(SweepVariable)]]


def sweep_document(dataset: "xr.Dataset") -> SweepDocument:
    """The dataset as plain lists, null for no number."""
    document: SweepDocument = {
        "attributes": dict(dataset.attrs),
        "coordinates": {str(name): dataset[name].values.tolist() for name in dataset.coords},
        "variables": {
            str(name): {
                "dims": list(dataset[name].dims),
                "values": dataset[name].values,
                **dataset[name].attrs,
            }
            for name in dataset.data_vars
        },
    }
    return without_nan(document)
