"""The report's page put together from its sections."""

import os
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import vlm
from vlm.cautions import SHORT_CAUTION
from vlm.show.page import escaped, filled, part
from vlm.show.report import answer, closing, flying, fold_maps, geometry, studies, sweep
from vlm.show.report.parts import Section
from vlm.show.scenes.schemes import scheme_css
from vlm.study.report.data import ReportData

Builder = Callable[[ReportData], Section | None]

SECTIONS: tuple[Builder, ...] = (
    answer.section,
    geometry.section,
    sweep.section,
    fold_maps.section,
    studies.lateral,
    studies.roll,
    flying.power,
    flying.schedule,
    flying.mission,
    studies.hinge,
    flying.log,
    closing.section,
)
"""In the order of the page; a builder gives None where the craft has no such section."""


def _date() -> str:
    """Today, or the day that a reproducible build is given (reproducible-builds.org)."""
    given = os.environ.get("SOURCE_DATE_EPOCH")
    now = datetime.now(UTC) if given is None else datetime.fromtimestamp(int(given), UTC)
    return now.date().isoformat()


def _block(section: Section) -> str:
    return (
        f'<section id="{section.ident}"><h2>{escaped(section.title)}</h2>{section.body}</section>'
    )


def report_page(data: ReportData) -> str:
    """The whole report as text, one page that opens offline."""
    sections = [found for build in SECTIONS if (found := build(data)) is not None]
    first, *rest = sections
    links = "".join(f'<li><a href="#{s.ident}">{escaped(s.title)}</a></li>' for s in rest)
    answer_block = _block(first)
    body = "".join(map(_block, rest))
    plan = data.plan
    state = (
        f"{plan.airspeed:g} m/s at {plan.density:g} kg/m³; lattice of {plan.grid.rows} rows and"
        f" {plan.grid.strips} strips a half span; made by foldspan {vlm.__version__} from"
        f" {Path(data.craft.source_name).name} on {_date()}"
    )
    return filled(
        part("report.html"),
        {
            "title": escaped(data.craft.title),
            "look": part("look.css"),
            "style": f"{part('report.css')}\n{scheme_css(answer_block + body)}",
            "state": escaped(state),
            "caution": escaped(SHORT_CAUTION),
            "answer": answer_block,
            "links": links,
            "body": body,
            "foot": escaped(SHORT_CAUTION),
            "script": part("report.js") + part("fold_map.js"),
        },
    )
