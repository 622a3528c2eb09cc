"""Warnings about a result: reported with number, limit, its source, and what to change."""

import math
from dataclasses import dataclass


@dataclass(frozen=True)
class Finding:
    """One warning.

    Attributes
    ----------
    code : short name, the same for the same kind of warning
    what : what is questionable, in words
    value : the worst number found
    limit : the number it is held against
    unit : unit of both, "1" for pure numbers
    source : where the limit comes from
    remedy : what to change
    cases : in how many cases of a study it was found
    """

    code: str
    what: str
    value: float
    limit: float
    unit: str
    source: str
    remedy: str
    cases: int = 1

    def sentence(self) -> str:
        """The finding as one line for people."""
        unit = "" if self.unit == "1" else f" {self.unit}"
        cases = f" in {self.cases} cases" if self.cases > 1 else ""
        value, limit = (_shown(number, unit) for number in (self.value, self.limit))
        return f"{self.what}{cases}: {value}, limit {limit} ({self.source}); {self.remedy}"


def _shown(number: float | None, unit: str) -> str:
    """A number with its unit; a document has null where there is none."""
    return "not known" if number is None or math.isnan(number) else f"{number:.3g}{unit}"


def gathered(findings: list[Finding]) -> list[Finding]:
    """One finding a kind, with the worst number and the count of cases.

    The worst is the one farthest beyond its limit, on whichever side the limit lies.
    """
    by_code: dict[str, list[Finding]] = {}
    for finding in findings:
        by_code.setdefault(finding.code, []).append(finding)
    result = []
    for group in by_code.values():
        worst = max(group, key=lambda f: abs(f.value - f.limit))
        result.append(
            Finding(
                worst.code,
                worst.what,
                worst.value,
                worst.limit,
                worst.unit,
                worst.source,
                worst.remedy,
                sum(f.cases for f in group),
            )
        )
    return result
