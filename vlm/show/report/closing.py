"""What the numbers rest on: assumptions, warnings, errors, cautions, input, version."""

import json
import shlex
from pathlib import Path
from typing import Any

import vlm
from vlm.cautions import CAUTIONS
from vlm.description.ranges import craft_range_findings
from vlm.environment import environment_report
from vlm.findings import Finding, gathered
from vlm.plain import plus_minus
from vlm.show.page import escaped
from vlm.show.report.parts import Section, bullets, command_line, fold_out, paragraph, table
from vlm.show.text.layout import number
from vlm.study.hinge.results import HingeStudy
from vlm.study.lateral.results import LateralStudy
from vlm.study.report.data import ReportData
from vlm.study.roll.results import RollStudy

ASSUMPTIONS = (
    "thin lifting surfaces in steady, incompressible, attached flow; no thickness, no viscosity"
    " unless a section says so",
    "a straight wake along the stream of each state that does not roll up; strips of sections in"
    " power, schedule and mission keep a wake along the craft's x axis",
    "rigid wings and tips; no rotors' slipstream unless a section says so",
    "references stay the same at every fold",
    "errors are those of the lattice, from a second, coarser one; those of the model come on top",
)


def section(data: ReportData) -> Section:
    """The last section."""
    findings = _findings(data)
    body = [
        "<h3>Assumptions</h3>", bullets(ASSUMPTIONS),
        "<h3>Warnings</h3>",
        bullets([finding.sentence() for finding in findings])
        or paragraph("None of the checks gave a warning."),
        fold_out("As a table", _warnings(findings)) if findings else "",
        "<h3>Left out of this report</h3>" + _left_out(data) if data.reasons else "",
        "<h3>Cautions</h3>", bullets(CAUTIONS),
        "<h3>Input file</h3>", paragraph(_read_as(data)),
        fold_out("The file", f"<pre>{escaped(data.craft.source_text)}</pre>"),
        "<h3>Version</h3>", fold_out("Versions", f"<pre>{escaped(environment_report())}</pre>"),
        "<h3>This report</h3>", command_line(_own_command(data)),
    ]  # fmt: skip
    return Section("basis", "What the numbers rest on", "".join(body))


def _own_command(data: ReportData) -> str:
    log = f" --log {shlex.quote(data.plan.log.name)}" if data.plan.log is not None else ""
    log += f" {data.plan.legs_option}" if data.plan.legs_option else ""
    step = f"--alpha {data.plan.alpha_deg:g} --step {data.plan.step_deg:g}"
    without = "".join(f" --without {name}" for name in data.plan.without)
    return data.plan.command("report", f"{step}{log}{without} -o report.html")


def _read_as(data: ReportData) -> str:
    changes = data.plan.overrides
    changed = f", with {', '.join(changes)} set on the command line" if changes else ""
    return f"{Path(data.craft.source_name).name}{changed}; foldspan {vlm.__version__}."


def _left_out(data: ReportData) -> str:
    return bullets([f"{name}: {why}" for name, why in data.reasons.items()])


def _findings(data: ReportData) -> list[Finding]:
    found: list[Finding] = [f for report in data.points.values() for f in report.findings]
    if data.sweep is not None:
        found += [Finding(**f) for f in json.loads(data.sweep.attrs["findings"])]
    found += craft_range_findings(data.craft)
    for document in data.studies.values():
        found += _listed(document)
    return gathered(found)


def _listed(document: Any) -> list[Finding]:
    """Warnings of a study: of its result or document, or of the parts of a log."""
    if isinstance(document, tuple):
        return [f for part in document if part is not None for f in part.findings]
    if isinstance(document, LateralStudy | RollStudy | HingeStudy):
        return list(document.findings)
    return [Finding(**f) for f in document.get("findings", ())]


def _worst(found: Finding) -> str:
    if found.value is None or found.half_width is None:
        return number(found.value, 3)
    return plus_minus(found.value, found.half_width)


def _warnings(findings: list[Finding]) -> str:
    heads = ["what", "worst", "limit", "unit", "limit from", "cases", "remedy"]
    rows = [
        [f.what, _worst(f), number(f.limit, 3), "" if f.unit == "1" else f.unit, f.source,
         str(f.cases), f.remedy]
        for f in findings
    ]  # fmt: skip
    return table("Warnings", heads, rows)
