"""Warnings about a result: reported with number, limit, its source, and what to change."""

import math
from dataclasses import dataclass, replace

from vlm.plain import plus_minus


@dataclass(frozen=True)
class Finding:
    """One warning.

    Attributes
    ----------
    code : short name, the same for the same kind of warning
    what : what is questionable, in words; where a number follows, what that number is stands last
    value : the worst number found; None where it is not known, or, without a limit, where words
        alone say it
    limit : the number it is held against; None where there is none, as where the sign or the mere
        presence counts: ``what`` says which
    unit : unit of both, "1" for pure numbers
    source : where the limit, or the warning, comes from; may be empty
    remedy : what to change
    cases : in how many cases of a study it was found
    half_width : of the value's error, in the same unit; None where it is not known or the value has
        none
    """

    code: str
    what: str
    value: float | None
    limit: float | None
    unit: str
    source: str
    remedy: str
    cases: int = 1
    half_width: float | None = None

    def sentence(self) -> str:
        """The finding as one line for people."""
        value, limit = self._shown(self.value, self.half_width), self._shown(self.limit)
        value = "not known" if limit and not value else value
        text = f"{self.what}: {value}" if value else self.what
        text += f", limit {limit}" if limit else ""
        if self.cases > 1:
            text += f", the worst of {self.cases} cases" if value else f" in {self.cases} cases"
        return f"{text}{f' ({self.source})' if self.source else ''}; {self.remedy}"

    @property
    def beyond(self) -> float:
        """How far the number is from its limit, on whichever side [unit]."""
        return abs(_known(self.value) - _known(self.limit))

    def _shown(self, number: float | None, half_width: float | None = None) -> str:
        """A number with its ± and unit; empty where there is none."""
        if number is None or math.isnan(number):
            return ""
        return plus_minus(number, half_width or 0.0, "" if self.unit == "1" else self.unit)


def _known(number: float | None) -> float:
    return 0.0 if number is None or math.isnan(number) else number


def gathered(findings: list[Finding]) -> list[Finding]:
    """One finding a kind, with the worst number and the count of cases.

    The worst is the one farthest beyond its limit, on whichever side the limit lies.
    """
    by_code: dict[str, list[Finding]] = {}
    for finding in findings:
        by_code.setdefault(finding.code, []).append(finding)
    result = []
    for group in by_code.values():
        worst = max(group, key=lambda f: f.beyond)
        result.append(replace(worst, cases=sum(f.cases for f in group)))
    return result
