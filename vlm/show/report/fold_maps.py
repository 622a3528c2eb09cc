"""Maps over port and starboard folds, and the part where the reader moves them."""

from collections.abc import Callable
from typing import Any

import numpy as np

from vlm.quantities import QUANTITIES
from vlm.show.labelling import label, titled
from vlm.show.page import embedded_json, part
from vlm.show.plots.contours import contour_map
from vlm.show.plots.sweep import SIGNED
from vlm.show.report.parts import (
    MAP_SIZE,
    Section,
    figure,
    figures,
    fold_out,
    opened,
    paragraph,
    range_text,
)
from vlm.show.style import DIVERGING, SEQUENTIAL, scale_colours
from vlm.show.text.layout import number
from vlm.show.words import SIGN_WORDS, SMALLEST
from vlm.sides import tip_body, wing_and_side
from vlm.study.point.contact import branches
from vlm.study.point.rotors_across import ALONE, WITHOUT
from vlm.study.report.data import ReportData
from vlm.study.sweep.naming import printed_width
from vlm.verdicts import SIGN_NOT_KNOWN

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
        + (f"; {failures} of them cannot be built and are hatched. " if failures else ". ")
        + "Between them the page interpolates, never across contact. Largest differences from"
        " direct solutions midway between nodes, at a few places: "
        + ", ".join(f"{name} {number(error, 2)}" for name, error in data.map.check.items())
        + "."
    )
    body = [
        *(paragraph(text) for text in _strongest(data)),
        part("fold_map.html"),
        _data(data),
        paragraph(words),
        fold_out("More figures", figures(*_maps(data, command))),
    ]
    return Section("map", "Port and starboard folded apart", "".join(body))


def _strongest(data: ReportData) -> list[str]:
    """The pair of folds that rolls most to starboard, lift not held."""
    assert data.map is not None
    roll = data.map.at("Cl", data.plan.alpha_deg)
    if not np.isfinite(roll).any():
        return []
    i, j = np.unravel_index(int(np.nanargmax(roll)), roll.shape)
    port, starboard = data.map.folds_deg[i], data.map.folds_deg[j]
    return [
        f"On the map the roll to starboard at {data.plan.alpha_deg:g}° angle of attack, lift not"
        f" held, is strongest at port {port:g}° and starboard {starboard:g}°: Cl"
        f" {number(roll[i, j], 3)}, ± not known. Move both tips below."
    ]


def _widths(data: ReportData) -> dict[str, Any]:
    """Half-widths of signs that decide, over symmetric folds; the page takes the larger side's.

    The interpolation's own largest error is added.
    """
    if data.sweep is None or data.map is None:
        return {}
    chosen = data.sweep.sel(alpha=data.plan.alpha_deg, method="nearest").isel(beta=0)
    found = {}
    for name in ("Cl_beta", "Cn_beta"):
        width = printed_width(chosen, name)
        if width is not None:
            between = data.map.check.get(name, 0.0)
            found[name] = _digits(np.asarray(width, dtype=float) + between, 3)
    return {"folds": chosen["fold"].values.tolist(), "of": found}


def _maps(data: ReportData, command: str) -> list[str]:
    alpha = data.plan.alpha_deg
    return [
        figure(
            f"map-{name}",
            f"{opened(titled(name).partition(' $')[0])} over both folds,"
            f" {alpha:g}° angle of attack{_alone(data, name)}.",
            command, _drawing(data, name), MAP_SIZE,
        )
        for name in MAPS
    ]  # fmt: skip


def _alone(data: ReportData, name: str) -> str:
    """What a number is of where the craft's rotors would change it."""
    assert data.map is not None
    return f", {ALONE}" if name in data.map.rotors else ""


def _drawing(data: ReportData, name: str) -> Callable[[Any], Any]:
    found = data.map
    assert found is not None

    def draw(axes: Any) -> Any:
        values = found.at(name, data.plan.alpha_deg)
        branch = branches(found.joined, np.isfinite(found.values["CL"][:, :, 0]))
        filled = contour_map(
            axes, found.folds_deg, found.folds_deg, values, signed=name in SIGNED, branch=branch
        )
        axes.set_title(titled(name) + _alone(data, name).replace(", ", "\n"), loc="left")
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
        "touching": [side.tolist() for side in found.touching],
        "quantities": {name: _quantity(name, _alone(data, name)) for name in SHOWN},
        "smallest": SMALLEST,
        "widths": _widths(data),
        "open_sign": SIGN_NOT_KNOWN,
        "rotors": {name: _digits(table, 4) for name, table in found.rotors.items()},
        "without_rotors": WITHOUT,
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


def _quantity(name: str, of: str) -> dict[str, Any]:
    quantity, words = QUANTITIES[name], SIGN_WORDS.get(name)
    return {
        "title": quantity.long_name.partition(",")[0],
        "of": of,
        "unit": "" if quantity.unit == "1" else quantity.unit,
        "words": [words.negative, words.zero, words.positive] if words else ["", "", ""],
        "signed": name in SIGNED,
    }


def _hinges(data: ReportData) -> dict[str, Any]:
    """Point, axis and linkage of each tip, and what its moment coefficient is multiplied by."""
    found = {}
    for tip, hinge in data.flat.hinges.items():
        wing, side = wing_and_side(tip)
        along = hinge.ends[1] - hinge.ends[0]
        sense = side.sense
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
        "body": tip_body(surface.wing, surface.side) if surface.part == "tip" else "fixed",
        "edges": np.round(quarter, 5).tolist(),
        "normals": np.round(surface.strip_normal, 5).tolist(),
    }


def _digits(values: Any, digits: int) -> Any:
    """Nested lists with so many significant digits, None where there is no number."""
    if isinstance(values, np.ndarray) and values.ndim > 0:
        return [_digits(v, digits) for v in values]
    return float(f"{values:.{digits}g}") if np.isfinite(values) else None
