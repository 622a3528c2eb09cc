"""The text of an export, for people: what the file holds, and where it ends."""

from typing import TYPE_CHECKING

import numpy as np

from vlm.show.text.answer import framed
from vlm.show.text.layout import number, section, table

if TYPE_CHECKING:
    import xarray as xr

AXES = (
    ("fold_left", "fold", "of the port side"),
    ("fold_right", "fold", "of the starboard side"),
    ("alpha", "angle", "of attack"),
    ("beta", "angle", "of sideslip"),
)


def export_table(dataset: "xr.Dataset", *, models: bool = True) -> str:
    """What was exported as text: range of the tables, and the trims of the linear models.

    Parameters
    ----------
    models : whether the file holds the linear models, too
    """
    valid, said = dataset["valid"], dataset.attrs
    answer = [
        "Tables over " + "; ".join(_axis(dataset, *axis) for axis in AXES) + ".",
        "They end at these folds; --fold-range widens them.",
        f"{int(valid.values.sum())} of their {valid.size} settings are marked valid,"
        f" {valid.attrs['long_name'].removeprefix('1 ')}.",
    ]
    blocks = []
    if models:
        heads = ["m/s", "fold, deg", "angle of attack, deg", "thrust, N"]
        answer.append("Which of the linear models are unstable, with ±: see the command lateral.")
        trims = table(heads, _trims(dataset), left=0)
        blocks.append(section("Trims of the linear models", trims).rstrip())
    rests = (
        f"sections: {said['sections']}; {said['density_kg_m3']:g} kg/m^3, mass"
        f" {number(said['mass_kg'], 3)} kg; axes, units, half-widths and assumptions stand in the"
        " file"
    )
    title = f"{said['title']}: tables{' and linear models' if models else ''}"
    return framed(title, answer, blocks, [], rests, [])


def _axis(dataset: "xr.Dataset", name: str, noun: str, of: str) -> str:
    values = dataset[name].values
    many = noun if values.size == 1 else f"{noun}s"
    return f"{values.size} {many} {of}, {values.min():g} to {values.max():g} deg"


def _trims(dataset: "xr.Dataset") -> list[list[str]]:
    inputs = [str(name) for name in dataset["input"].values]
    thrusts = [i for i, name in enumerate(inputs) if "thrust" in name]
    rows = []
    for point in range(dataset.sizes["point"]):
        given = dataset["trim_input"].values[point]
        fold = float(np.degrees(given[inputs.index("fold_left_rad")]))
        rows.append(
            [
                f"{float(dataset['trim_airspeed_m_s'].values[point]):g}",
                number(fold, 3),
                number(float(dataset["trim_alpha_deg"].values[point]), 3),
                number(float(given[thrusts].sum()), 3) if thrusts else "no rotors",
            ]
        )
    return rows
