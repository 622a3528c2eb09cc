"""The sweep of both tips alike."""

from collections.abc import Callable
from typing import Any

from vlm.show.labelling import titled
from vlm.show.plots.sweep import curve_axes
from vlm.show.report.parts import (
    Section,
    carrying,
    figure,
    fold_out,
    opened,
    paragraph,
    range_text,
    table,
)
from vlm.show.tables.sweep import OF_WINGS
from vlm.show.text.layout import number, with_error
from vlm.show.text.sweep_answer import cost_of_folding, dihedral_ranges, with_numbers
from vlm.study.point.rotors_across import ALONE
from vlm.study.report.data import ReportData
from vlm.study.sweep.naming import is_alone, printed_width

CURVES = ("span_efficiency", "Cl_beta", "CL", "CDi", "Cl_p", "Cm_alpha")
COLUMNS = ("CL", "CDi", "span_efficiency", "best_span_efficiency", "Cm", "Cl_beta", "Cn_beta",
           "Cl_p", "static_margin")  # fmt: skip
READ_OFF = (
    "Few folds are solved on a second lattice; the ± of the others is read off theirs, and may be"
    " wider than that of a named configuration, which is solved by itself."
)
HEADS = {"span_efficiency": "span efficiency", "best_span_efficiency": "best span efficiency",
         "Cl_beta": "Cl_beta [1/rad]", "Cn_beta": "Cn_beta [1/rad]",
         "static_margin": "static margin [chords]"}  # fmt: skip


def section(data: ReportData) -> Section | None:
    """Curves and a table against fold; None for a craft without tips."""
    if data.sweep is None:
        return None
    command = sweep_command(data)
    said = paragraph(" ".join(sweep_sentences(data))) + paragraph(
        "Both tips folded alike, a curve for each angle of attack; bands show the error that a"
        " second, coarser lattice tells. Span efficiency holds lift squared against induced"
        " drag at each angle of attack; the dashed curve is the best that this shape of wake"
        " allows with any loading."
    )
    blocks = [
        carrying(said, [_curve(data, name, command) for name in CURVES]),
        fold_out("Table", _table(data), paragraph(_rests_on(data))),
    ]
    return Section("sweep", "Both tips folded alike", "".join(blocks))


def _rests_on(data: ReportData) -> str:
    return f"{READ_OFF} {OF_WINGS}" if is_alone(data.sweep, "Cl_beta") else READ_OFF


def sweep_sentences(data: ReportData) -> list[str]:
    """What folding costs, and where the dihedral effect is stable; none without numbers."""
    assert data.sweep is not None
    polar = data.sweep.isel(beta=0)
    chosen = with_numbers(polar.sel(alpha=data.plan.alpha_deg, method="nearest"))
    if chosen is None:
        return []
    return [
        text for text in (cost_of_folding(chosen, polar=polar), dihedral_ranges(chosen)) if text
    ]


def sweep_command(data: ReportData) -> str:
    """The command that draws the curves; the craft has tips."""
    assert data.sweep is not None
    listed = range_text(data.sweep["fold"].values)
    alphas = range_text(data.plan.alphas_deg)
    return data.plan.command(
        "sweep", f"--folds={listed} --alphas={alphas} --errors --out sweep.nc --plot sweep.png"
    )


def _curve(data: ReportData, name: str, command: str) -> str:
    alone = f", {ALONE}" if is_alone(data.sweep, name) else ""
    caption = f"{opened(titled(name).partition(' $')[0])} against fold of both sides{alone}."
    return figure(f"sweep-{name}", caption, command, _drawing(data, name))


def _drawing(data: ReportData, name: str) -> Callable[[Any], Any]:
    return lambda axes: curve_axes(axes, data.sweep, name, data.plan.alphas_deg)


def _table(data: ReportData) -> str:
    assert data.sweep is not None
    chosen = data.sweep.sel(alpha=data.plan.alpha_deg, method="nearest").isel(beta=0)
    rows = []
    for fold in chosen["fold"].values:
        one = chosen.sel(fold=fold)
        cells = [_cell(one, name) for name in COLUMNS]
        rows.append([f"{fold:g}", *cells, str(one["failure"].item())])
    heads = ["fold [deg]", *(HEADS.get(name, name) for name in COLUMNS), "note"]
    title = f"Both tips folded alike, {float(chosen['alpha']):g}° angle of attack"
    return table(title, heads, rows)


def _cell(one: Any, name: str) -> str:
    width = printed_width(one, name)
    if width is not None:
        return with_error(float(one[name]), float(width))
    return number(float(one[name]))
