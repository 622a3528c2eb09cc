"""Published values against ours: reading tests/published/, running one check, writing the page.

``python tests/published_checks.py`` prints every check; ``--write docs/validation.md`` writes the
page of the documentation and its figures beside it.
"""

import argparse
import sys
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from functools import cache
from importlib import import_module
from pathlib import Path
from typing import Any

import numpy as np

FOLDER = Path(__file__).parent / "published"
KINDS = ("theory", "derived", "experiment", "regression")
SUBJECTS = (
    "planar wings",
    "low aspect ratio",
    "sweep",
    "twist and camber",
    "lifting-line tables",
    "biplanes",
    "closed and nonplanar wakes",
    "dihedral effect",
    "damping and cross derivatives",
    "relative loading",
    "folded tips",
    "wind tunnel",
)
SOURCE_KEYS = {"author", "title", "year", "place", "how_read", "kind", "subject", "note"}
CHECK_KEYS = {
    "name", "kind", "subject", "place", "how_read", "case", "quantity", "arguments", "over",
    "expected", "at_least", "at_most", "tolerance_relative", "tolerance_absolute",
    "tolerance_reason", "reference",
}  # fmt: skip
MOST_DIGITS = 15.0
Table = Mapping[str, Any]


class BadCheck(ValueError):
    """A file of tests/published/ does not hold what it must."""


@dataclass(frozen=True)
class Check:
    """One published number and how ours is made.

    ``bound`` is "expected", "at_least" or "at_most"; ``tolerance`` is absolute.
    """

    file: str
    name: str
    subject: str
    kind: str
    source: str
    place: str
    how_read: str
    short_source: str
    case: Table
    quantity: str
    arguments: Table
    over: Table | None
    bound: str
    published: float
    tolerance: float
    tolerance_text: str
    reason: str
    reference: Table | None = None

    @property
    def label(self) -> str:
        """File and name: what a test is called."""
        return f"{self.file}: {self.name}"


@dataclass(frozen=True)
class Outcome:
    """A check that was run."""

    check: Check
    ours: float
    difference: float = field(init=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "difference", self.ours - self.check.published)

    @property
    def passed(self) -> bool:
        """Whether ours is within the tolerance, or on the right side of the bound."""
        if self.check.bound == "at_least":
            return self.difference >= -self.check.tolerance
        if self.check.bound == "at_most":
            return self.difference <= self.check.tolerance
        return abs(self.difference) <= self.check.tolerance

    @property
    def relative(self) -> float:
        """Ours over the published value, less one; the plain difference where that is 0."""
        return self.difference / (self.check.published or 1.0)

    @property
    def digits(self) -> float:
        """Digits of agreement: minus the logarithm of the relative difference."""
        if self.relative == 0.0:
            return MOST_DIGITS
        return float(min(MOST_DIGITS, -np.log10(abs(self.relative))))

    @property
    def told(self) -> str:
        """One line for people."""
        agreement = f"{100.0 * self.relative:+.3g} %, {self.digits:.1f} digits"
        if self.check.published == 0.0:
            agreement = f"{self.difference:+.2g}"
        sign = {"expected": "", "at_least": ">= ", "at_most": "<= "}[self.check.bound]
        return (
            f"{self.check.label}: {sign}{self.check.published:.6g} published,"
            f" {self.ours:.6g} ours, {agreement} (allowed {self.check.tolerance_text})"
        )


def read_file(path: Path) -> list[Check]:
    """The checks of one file.

    Raises
    ------
    BadCheck : a key is missing or unknown, or a value is none of the words allowed
    """
    data = tomllib.loads(path.read_text(encoding="utf-8"))
    source = {key: value for key, value in data.items() if key not in ("check", "cases")}
    _hold(path.name, set(source) <= SOURCE_KEYS, f"unknown keys {set(source) - SOURCE_KEYS}")
    missing = SOURCE_KEYS - {"note"} - set(source)
    _hold(path.name, not missing, f"missing keys {missing}")
    _hold(path.name, bool(data.get("check")), "no [[check]]")
    cases = data.get("cases", {})
    return [_check(path.stem, source, told, cases) for told in data["check"]]


def _hold(where: str, is_so: bool, complaint: str) -> None:
    if not is_so:
        raise BadCheck(f"{where}: {complaint}")


def _check(file: str, source: Table, told: Table, cases: Table) -> Check:
    where = f"{file}: {told.get('name', '?')}"
    _hold(where, set(told) <= CHECK_KEYS, f"unknown keys {set(told) - CHECK_KEYS}")
    both = {**source, **told}
    _hold(where, both["kind"] in KINDS, f"kind {both['kind']!r}")
    _hold(where, both["subject"] in SUBJECTS, f"subject {both['subject']!r}")
    _hold(where, len(told.get("tolerance_reason", "")) > 10, "a tolerance needs its reason")
    bounds = [b for b in ("expected", "at_least", "at_most") if b in told]
    _hold(where, len(bounds) == 1, "one of expected, at_least and at_most is needed")
    published = float(told[bounds[0]])
    tolerance, text = _tolerance(where, told, published, bounds[0])
    over = told.get("over")
    if over is not None:
        over = {"quantity": told["quantity"], "arguments": told.get("arguments", {}), **over}
        over["case"] = _resolved(over.get("case", told["case"]), cases)
    return Check(
        file=file,
        name=told["name"],
        subject=both["subject"],
        kind=both["kind"],
        source=f"{source['author']}, {source['title']}, {source['year']}",
        place=both["place"],
        how_read=both["how_read"],
        short_source=short_source(source["author"], source["year"]),
        case=_resolved(told["case"], cases),
        quantity=told["quantity"],
        arguments=told.get("arguments", {}),
        over=over,
        bound=bounds[0],
        published=published,
        tolerance=tolerance,
        tolerance_text=text,
        reason=told["tolerance_reason"],
        reference=told.get("reference"),
    )


def short_source(author: str, year: int) -> str:
    """Surnames and year; "derived" stays alone."""
    if author == "derived":
        return author
    people = author.replace(" and ", ", ").split(", ")
    names = [" ".join(w for w in person.split() if not w.endswith(".")) for person in people]
    if len(names) > 2:
        return f"{names[0]} and others {year}"
    return f"{' and '.join(names)} {year}"


def _tolerance(where: str, told: Table, published: float, bound: str) -> tuple[float, str]:
    given = [key for key in ("tolerance_relative", "tolerance_absolute") if key in told]
    if bound != "expected" and not given:
        return 0.0, "the bound itself"
    _hold(where, len(given) == 1, "one of tolerance_relative and tolerance_absolute is needed")
    size = float(told[given[0]])
    _hold(where, size > 0.0, "a tolerance must be positive")
    if given[0] == "tolerance_absolute":
        return size, f"{size:g}"
    _hold(where, published != 0.0, "a relative tolerance needs a value that is not 0")
    return size * abs(published), f"{100.0 * size:g} %"


def _resolved(case: Any, cases: Table) -> Table:
    """A case by name, or a table that may start from one with ``like``."""
    if isinstance(case, str):
        return dict(cases[case])
    base = cases[case["like"]] if "like" in case else {}
    return {**base, **{key: value for key, value in case.items() if key != "like"}}


@cache
def all_checks() -> tuple[Check, ...]:
    """Every check of tests/published/."""
    return tuple(check for path in sorted(FOLDER.glob("*.toml")) for check in read_file(path))


def run(check: Check) -> Outcome:
    """Make our number and compare it."""
    from published_cases import value_of

    ours = value_of(check.case, check.quantity, check.arguments)
    if check.over is not None:
        ours /= value_of(check.over["case"], check.over["quantity"], check.over["arguments"])
    return Outcome(check, ours)


def reference_value(check: Check) -> float:
    """The published number as the independent solver of tests/reference/ has it."""
    assert check.reference is not None
    room, name = str(check.reference["function"]).split(".")
    module = import_module(f"reference.{room}")
    arguments = [_argument(module, value) for value in check.reference.get("arguments", [])]
    return float(getattr(module, name)(*arguments)) * float(check.reference.get("times", 1.0))


def _argument(module: Any, value: Any) -> Any:
    """A number or a word; a table { wing = "ellipse", of = [6.0] } makes a wing of the module."""
    if isinstance(value, dict):
        return getattr(module, value["wing"])(*value["of"])
    return value


def by_subject(outcomes: list[Outcome]) -> Iterator[tuple[str, str, list[Outcome]]]:
    """Subject, kind and their outcomes, in the order of the page."""
    for subject in SUBJECTS:
        for kind in KINDS:
            chosen = [o for o in outcomes if o.check.subject == subject and o.check.kind == kind]
            if chosen:
                yield subject, kind, chosen


def main(words: list[str] | None = None) -> int:
    """Run every check; 0 if all hold."""
    parser = argparse.ArgumentParser(description="Hold the package against published values.")
    parser.add_argument("--write", type=Path, metavar="PAGE", help="write this page, with figures")
    told = parser.parse_args(words)
    outcomes = [run(check) for check in all_checks()]
    for outcome in outcomes:
        print("ok  " if outcome.passed else "FAIL", outcome.told)
    if told.write is not None:
        from published_page import write_page

        write_page(outcomes, told.write)
    failed = sum(not outcome.passed for outcome in outcomes)
    sources = {outcome.check.source for outcome in outcomes}
    print(f"{len(outcomes)} checks from {len(sources)} sources, {failed} failed")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.path.append(str(Path(__file__).parents[1]))
    sys.exit(main())
