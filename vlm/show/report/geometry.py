"""Geometry: three views with dimensions, and tables."""

from typing import Any

import numpy as np

from vlm.show.report.parts import FIGURE_SIZE, Section, figure, figures, fold_out, paragraph, table
from vlm.show.text.layout import number, with_error
from vlm.study.report.data import ReportData

INK, PALE, TIP = "#1c2733", "#6b7885", "#a0266b"


def section(data: ReportData) -> Section:
    """Dimensions of the craft."""
    command = data.plan.command("check", air=False).partition(" --rows")[0]
    blocks = [
        figures(
            figure("view-front", "From behind, port on the left; lengths in metres.", command,
                   lambda axes: front_view(axes, data), _size(data, 2, 0.45)),
            figure("view-top", f"From above, nose up{_shades(data)}; hinges dotted.", command,
                   lambda axes: top_view(axes, data), _size(data, 0, 0.1)),
            said=paragraph(_sentence(data)),
        ),
        fold_out("Tables", _wings(data), _arrangement(data), _references(data), _folds(data),
                 _configurations(data)),
    ]  # fmt: skip
    return Section("geometry", "Geometry", "".join(blocks))


def _sentence(data: ReportData) -> str:
    found = data.dimensions["reference"]
    gap = data.craft.arrangement
    between = "" if gap is None else f", the wings {number(gap.gap_m, 3)} m apart"
    named = len(data.craft.configurations)
    return (
        f"{_span(data)} m from end to end with the tips flat{between}; reference area"
        f" {number(found['area_m2'], 3)} m², the same at every fold; {named or 'no'} named"
        " settings."
    )


def _shades(data: ReportData) -> str:
    """Which wing has which colour, where there are two."""
    return "; upper wing blue, lower wing orange" if len(data.craft.wings) > 1 else ""


def _span(data: ReportData) -> str:
    points = np.concatenate([s.corners.reshape(-1, 3) for s in data.flat.surfaces])
    return number(float(np.ptp(points[:, 1])), 4)


def _size(data: ReportData, axis: int, room: float) -> tuple[float, float]:
    """Width and height of a view [in] from the craft's extents and its room for dimensions."""
    points = np.concatenate([s.corners.reshape(-1, 3) for s in data.flat.surfaces])
    tall, wide = np.ptp(points[:, axis]) + room * data.flat.size, np.ptp(points[:, 1])
    return FIGURE_SIZE[0], float(np.clip(2.8 * tall / (1.2 * wide) + 0.7, 1.4, 4.2))


def front_view(axes: Any, data: ReportData) -> Any:
    """Wings as lines seen from behind, with overall span and gap; returns the axes."""
    for surface in data.flat.surfaces:
        line = surface.corners[0] * 0.75 + surface.corners[-1] * 0.25
        tip = surface.part == "tip"
        axes.plot(line[:, 1], line[:, 2], color=TIP if tip else INK, lw=3, solid_capstyle="butt")
    points = np.concatenate([s.corners.reshape(-1, 3) for s in data.flat.surfaces])
    low, high = points[:, 1].min(), points[:, 1].max()
    top, bottom = points[:, 2].max(), points[:, 2].min()
    room = 0.08 * data.flat.size
    _dimension(axes, (low, top + room), (high, top + room), f"{high - low:.3f}")
    if data.craft.arrangement is not None:
        # Between root leading edges, as the gap is defined, beside the craft where there is room.
        side = high + room
        gap = data.craft.arrangement.gap_m
        _dimension(axes, (side, -gap), (side, 0.0), f"gap {gap:.3f}")
    for hinge in data.flat.hinges.values():
        axes.plot(hinge.ends[0, 1], hinge.ends[0, 2], "o", color=TIP, ms=5)
    inner = [h.ends[0, 1] for h in data.flat.hinges.values()]
    if inner:
        below = bottom - room
        # As the file has it: ends of a flared hinge line stand further out or in.
        own = data.craft.wings[next(iter(data.craft.tips))].span_m
        wide = max(inner) - min(inner) if own is None else own
        _dimension(axes, (min(inner), below), (max(inner), below),
                   f"between hinges {wide:.3f}")  # fmt: skip
    axes.set_aspect("equal")
    axes.margins(0.04, 0.1)
    axes.set_xlabel("y [m], starboard positive")
    axes.set_ylabel("z [m], up")
    return axes


def top_view(axes: Any, data: ReportData) -> Any:
    """Outlines of the wings seen from above; returns the axes."""
    shades = {"upper": "#cfe0ee", "lower": "#f4dcc5"}
    ordered = sorted(data.flat.surfaces, key=lambda s: s.wing != "lower")
    for surface in ordered:
        grid = surface.corners
        outline = np.concatenate([grid[0], grid[1:-1, -1], grid[-1][::-1], grid[1:-1, 0][::-1]])
        shade = shades.get(surface.wing, "#dfe5d3")
        axes.fill(outline[:, 1], outline[:, 0], fc=shade, ec=INK, lw=0.8, alpha=0.75)
    for hinge in data.flat.hinges.values():
        axes.plot(hinge.ends[:, 1], hinge.ends[:, 0], ":", color=TIP, lw=2.5)
    point = data.flat.moment_point
    axes.plot(point[1], point[0], "x", color=INK, ms=7, mew=2)
    axes.annotate("moment point", (point[1], point[0]), xytext=(6, 4), textcoords="offset points",
                  fontsize=8, color=INK)  # fmt: skip
    axes.set_aspect("equal")
    axes.invert_yaxis()
    axes.margins(0.04, 0.12)
    axes.set_xlabel("y [m], starboard positive")
    axes.set_ylabel("x [m], aft")
    return axes


def _dimension(axes: Any, start: Any, end: Any, text: str) -> None:
    axes.plot([start[0], end[0]], [start[1], end[1]], alpha=0.0)  # makes room for it
    axes.annotate("", start, end, arrowprops={"arrowstyle": "<->", "color": PALE, "lw": 1.0,
                                              "shrinkA": 0, "shrinkB": 0})  # fmt: skip
    middle = 0.5 * (start[0] + end[0]), 0.5 * (start[1] + end[1])
    axes.annotate(text, middle, ha="center", va="center", fontsize=8, color=INK,
                  rotation=90.0 if start[0] == end[0] else 0.0,
                  bbox={"fc": "white", "ec": "none", "pad": 1.0})  # fmt: skip


def _wings(data: ReportData) -> str:
    heads = ["wing", "flat span [m]", "area [m²]", "aspect ratio", "mean chord [m]",
             "tip span [m]", "tip area [m²]", "tips' share of area [%]"]  # fmt: skip
    keys = ("flat_span_m", "area_m2", "aspect_ratio", "mean_chord_m", "tip_span_m", "tip_area_m2")
    rows = []
    for name, wing in data.dimensions["wings"].items():
        share = wing["tip_share_of_area"]
        shown = number(None if share is None else 100.0 * share, 3)
        rows.append([name, *(number(wing[key]) for key in keys), shown])
    return table("Wings, tips flat", heads, rows)


def _arrangement(data: ReportData) -> str:
    found = data.dimensions["arrangement"]
    if found is None:
        return ""
    rows = [
        ["gap", f"{number(found['gap_m'])} m", f"{number(found['gap_over_chord'], 3)} chords"],
        ["stagger (upper wing ahead positive)", f"{number(found['stagger_m'])} m",
         f"{number(found['stagger_over_chord'], 3)} chords"],
        ["decalage (upper less lower incidence)", f"{number(found['decalage_deg'], 3)} deg", ""],
    ]  # fmt: skip
    return table("Arrangement", ["what", "value", "over the reference chord"], rows)


def _references(data: ReportData) -> str:
    found = data.dimensions["reference"]
    point = ", ".join(number(v) for v in found["moment_point_m"])
    rows = [
        ["area", number(found["area_m2"]), "m²"],
        ["span", number(found["span_m"]), "m"],
        ["chord", number(found["chord_m"]), "m"],
        ["moment point (x aft, y starboard, z up)", point, "m"],
        ["aspect ratio", number(found["aspect_ratio"]), ""],
    ]
    return table("References, the same at every fold", ["what", "value", "unit"], rows)


def _folds(data: ReportData) -> str:
    if not data.dimensions["folds"]:
        return ""
    rows = [
        [f"{r['fold_deg']:g}", number(r["span_m"]), number(r["clearance_m"]), r["state"]]
        for r in data.dimensions["folds"]
    ]
    heads = ["fold [deg]", "overall span [m]", "clearance of the tips [m]", "note"]
    return table("Both tips folded", heads, rows)


def _configurations(data: ReportData) -> str:
    if not data.points:
        return ""
    heads = ["configuration", "port [deg]", "starboard [deg]", "CL", "CDi", "span efficiency",
             "Cl", "Cl_beta [1/rad]", "dihedral effect"]  # fmt: skip
    return table(
        f"Named configurations at {data.plan.alpha_deg:g}° angle of attack", heads,
        [_point_row(name, report) for name, report in data.points.items()],
    )  # fmt: skip


def _point_row(name: str, report: Any) -> list[str]:
    from vlm.show.words import sign_words
    from vlm.study.point.rotors_across import turned_in, without_rotors

    values, errors = report.coefficients, report.half_widths
    slope = report.derivatives["body"]["Cl_beta"]
    shown = [
        with_error(value, errors.get(key))
        for key, value in (("CL", values.CL), ("CDi", values.CDi),
                           ("span_efficiency", values.span_efficiency), ("Cl", values.Cl),
                           ("Cl_beta", slope))
    ]  # fmt: skip
    words = sign_words("Cl_beta", slope, errors.get("Cl_beta")).replace(" dihedral effect", "")
    words += without_rotors(turned_in(report), "Cl_beta")
    return [name, f"{report.folds.left_deg:g}", f"{report.folds.right_deg:g}", *shown, words]
