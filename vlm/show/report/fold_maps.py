"""Maps over port and starboard folds, and the part where the reader moves them."""

from collections.abc import Callable
from typing import Any

import numpy as np

from vlm.quantities import QUANTITIES
from vlm.show.labelling import label, titled
from vlm.show.page import embedded_json, part
from vlm.show.plots.sweep import SIGNED, contour_map
from vlm.show.report.parts import (
    MAP_SIZE,
    Section,
    figure,
    figures,
    opened,
    paragraph,
    range_text,
)
from vlm.show.style import DIVERGING, SEQUENTIAL, scale_colours
from vlm.show.tables.layout import number
from vlm.show.words import SIGN_WORDS, SMALLEST
from vlm.study.report_data import ReportData

MAPS = ("Cl", "Cn", "CL", "span_efficiency", "Cl_beta", "Cm")
COLOURS = 41
SHOWN = ("CL", "CDi", "span_efficiency", "CY", "Cl", "Cm", "Cn", "Cl_beta", "Cn_beta", "Cl_p")


def section(data: ReportData) -> Section | None:
    """The part to move, then the maps; None for a craft without tips."""
    if data.map is None:
        return None
    folds = range_text(data.map.folds_deg)
    asked = f"--folds={folds} --asymmetric --alphas={data.plan.alpha_deg:g}"
    command = data.plan.command("sweep", f"{asked} --out map.nc --plot map.png")
    failures = len(data.map.failures)
    words = (
        "Port and starboard tips folded apart, without sideslip or rates."
        f" {len(data.map.folds_deg)} by {len(data.map.folds_deg)} pairs were computed"
        + (f"; {failures} of them cannot be built and stay grey. " if failures else ". ")
        + "Between them the page interpolates. Largest differences from direct solutions midway"
        " between nodes, at a few places: "
        + ", ".join(f"{name} {number(error, 2)}" for name, error in data.map.check.items())
        + "."
    )
    body = [paragraph(words), part("fold_map.html"), _data(data), figures(*_maps(data, command))]
    return Section("map", "Port and starboard folded apart", "".join(body))


def _maps(data: ReportData, command: str) -> list[str]:
    alpha = data.plan.alpha_deg
    return [
        figure(
            f"map-{name}",
            f"{opened(titled(name).partition(' $')[0])} over both folds,"
            f" {alpha:g}° angle of attack.",
            command, _drawing(data, name), MAP_SIZE,
        )
        for name in MAPS
    ]  # fmt: skip


def _drawing(data: ReportData, name: str) -> Callable[[Any], Any]:
    found = data.map
    assert found is not None

    def draw(axes: Any) -> Any:
        values = found.at(name, data.plan.alpha_deg).T
        filled = contour_map(axes, found.folds_deg, found.folds_deg, values, signed=name in SIGNED)
        axes.set_title(titled(name), loc="left")
        if filled is not None:
            axes.figure.colorbar(filled, ax=axes, fraction=0.046, pad=0.03).set_label(label(name))
        return axes

    return draw


def _data(data: ReportData) -> str:
    return f'<script type="application/json" id="fold-map">{embedded_json(document(data))}</script>'


def document(data: ReportData) -> dict[str, Any]:
    """What the page's script interpolates in and draws."""
    found = data.map
    assert found is not None
    flat = data.flat
    return {
        "folds": found.folds_deg.tolist(),
        "alphas": found.alphas_deg.tolist(),
        "start": {"port": flat.setting.left_deg, "starboard": flat.setting.right_deg,
                  "alpha": data.plan.alpha_deg, "airspeed": data.plan.airspeed},
        "density": data.plan.density,
        "values": {name: _digits(table, 5) for name, table in found.values.items()},
        "circulation": _digits(found.circulation, 4),
        "quantities": {name: _quantity(name) for name in SHOWN},
        "smallest": SMALLEST,
        "hinges": _hinges(data),
        "surfaces": [_surface(s) for s in flat.surfaces],
        "size": flat.size,
        "colours": scale_colours(DIVERGING, COLOURS),
        "shades": scale_colours(SEQUENTIAL, COLOURS),
        "configurations": {
            name: [c.folds.left_deg, c.folds.right_deg]
            for name, c in data.craft.configurations.items()
        },
    }  # fmt: skip


def _quantity(name: str) -> dict[str, Any]:
    quantity, words = QUANTITIES[name], SIGN_WORDS.get(name)
    return {
        "title": quantity.long_name.partition(",")[0],
        "unit": "" if quantity.unit == "1" else quantity.unit,
        "words": [words.negative, words.zero, words.positive] if words else ["", "", ""],
        "signed": name in SIGNED,
    }


def _hinges(data: ReportData) -> dict[str, Any]:
    """Point, axis and linkage of each tip, and what its moment coefficient is multiplied by."""
    found = {}
    for tip, hinge in data.flat.hinges.items():
        wing, side = tip.split("_")
        along = hinge.ends[1] - hinge.ends[0]
        sense = 1.0 if side == "right" else -1.0
        size = data.dimensions["wings"][wing]
        found[tip] = {
            "point": np.round(hinge.ends[0], 5).tolist(),
            "axis": (sense * along / np.linalg.norm(along)).tolist(),
            "linkage": data.craft.tips[wing].linkage,
            "area_span_m3": size["tip_area_m2"] * size["tip_span_m"],
        }
    return found


def _surface(surface: Any) -> dict[str, Any]:
    quarter = surface.corners[0] + 0.25 * (surface.corners[-1] - surface.corners[0])
    return {
        "body": f"{surface.wing}_{surface.side}" if surface.part == "tip" else "fixed",
        "edges": np.round(quarter, 5).tolist(),
        "normals": np.round(surface.strip_normal, 5).tolist(),
    }


def _digits(values: Any, digits: int) -> Any:
    """Nested lists with so many significant digits, None where there is no number."""
    if isinstance(values, np.ndarray) and values.ndim > 0:
        return [_digits(v, digits) for v in values]
    return float(f"{values:.{digits}g}") if np.isfinite(values) else None
