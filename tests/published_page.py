"""The pages docs/validation.md, every check in a table, and docs/curves.md, their figures."""

import sys
import tomllib
from pathlib import Path
from typing import Any

from published_checks import FOLDER, Check, Outcome, by_subject, short_source

DOCS = Path(__file__).parents[1] / "docs"

HEAD = """# Validation

What the lattice says beside what others published. Every row is run by
`tests/loads/test_published.py` from the files in `tests/published/`; this page is written by
`python tests/published_checks.py --write docs/validation.md`.

- **Kind.** *Theory*: published theory, or a worked example. *Derived*: a number worked out for this
  project by independent means, never by the code under test; it stands in for tables that could
  not be read. *Experiment*: measured. *Regression*: a fit through measurements or through theory.
- **Digits**: minus the decimal logarithm of the relative difference.
- **Source**, with how it was read: how far to trust the published number itself; titles and places
  stand under [sources](#sources). Many reports could not be opened. Numbers of theory "from memory"
  were reproduced a second way (a series, a quadrature, a conformal map, another lattice; the short
  ones are in `tests/reference/` and run beside the check). Remembered formulas of an approximate
  kind and remembered tests have no such backing, and tolerances to match.
- **Allowed** is the tolerance with its reason. Nothing in the code was tuned to a row.
- Lattices: at most 9 rows and 36 strips a half span where nothing else is said in the file.
  Extrapolated numbers come from 9 x 36, 6 x 24 and 4 x 16.

Whole curves, and rotors, stand on [a page of their own](curves.md).
"""

CURVES = """# Published curves

What others published as a line, with points of ours on it: figures of
[Validation](validation.md), whose `--write` draws them too.
"""

MISSING = """## What is missing

Wind-tunnel biplanes. The reports that hold measured biplanes were found but their tables could not
be read, so that there is no measured biplane on this page and the lift and drag of biplanes rests
on theory: Munk, NACA TR 151 (1922) and TR 256 (1927); Mock, TN 269 (1927); Shoemaker, TN 289
(1928); Fairbanks, TR 271 (1927); Knight and Noyes, TN 310, 325 and 330 (1929); Noyes, TR 417
(1932); Kuhn, TR 445; Diehl, TR 458 (1933) and TR 501 (1934). The same holds for Weber and
Brebner's swept wings (ARC R&M 2882, 1958), Riley's end plates (TN 2440, 1951) and Shortal's
dihedral of tips (TR 548). Each is worth reading: a number becomes a check by one table in a file.

Against tests in general expect this page's *experiment* rows to repeat: the boundary layer takes
about a tenth off the effect of camber and of moments of cambered sections, a few per cent off the
lift slope, and everything near stall. Thickness, boundary layer and the roll-up of the wake are not
in the lattice.
"""

ADDING = """## Adding a check

A file in `tests/published/` is one source: who, what, when, where in it, how it was read, its kind
and subject. Each `[[check]]` names a case (wings by shape as `tests/published_wings.py` lists them,
or a whole `craft` in the keys of the geometry file; folds, angles, lattice), a quantity of
`tests/published_quantities.py` or `tests/published_traces.py`, the value, and a tolerance with its
reason. `over` divides by the quantity of another case, and `reference` names a function of
`tests/reference/` that must give the published value too. The tolerance comes from what is known
about the published number and the method, not from our difference; break the code once and see the
check fail.
"""

COLUMNS = ("what", "published", "ours", "difference", "digits", "source", "allowed")


def number(value: float) -> str:
    """Six significant digits, without needless ones."""
    return f"{value:.6g}"


def row(outcome: Outcome) -> str:
    """One line of a table."""
    check = outcome.check
    sign = {"expected": "", "at_least": "≥ ", "at_most": "≤ "}[check.bound]
    if check.bound != "expected":
        difference, digits = "holds" if outcome.passed else "fails", ""
    elif check.published == 0.0:
        difference, digits = f"{outcome.difference:+.0e}", ""
    else:
        difference, digits = f"{100.0 * outcome.relative:+.2g} %", f"{outcome.digits:.1f}"
    allowed = f"{check.tolerance_text}: {check.reason}"
    cells = (
        check.name, sign + number(check.published), number(outcome.ours), difference, digits,
        _source(check), allowed,
    )  # fmt: skip
    return "| " + " | ".join(cell.replace("|", "/") for cell in cells) + " |"


def _source(check: Check) -> str:
    """The short source, and how it was read where that is not said already."""
    read = check.how_read.split(";")[0]
    return check.short_source if read == check.short_source else f"{check.short_source} ({read})"


def table(outcomes: list[Outcome]) -> str:
    """A table of outcomes."""
    lines = [
        "| " + " | ".join(COLUMNS) + " |",
        "| --- | ---: | ---: | ---: | ---: | --- | --- |",
        *(row(outcome) for outcome in outcomes),
    ]
    return "\n".join(lines)


def summary(outcomes: list[Outcome]) -> str:
    """How many checks of each kind, and how well they agree."""
    lines = [
        "| kind | checks | sources | median difference | largest difference |",
        "| --- | ---: | ---: | ---: | ---: |",
    ]
    for kind in ("theory", "derived", "experiment", "regression"):
        chosen = [o for o in outcomes if o.check.kind == kind]
        sizes = sorted(
            abs(o.relative) for o in chosen if o.check.bound == "expected" and o.check.published
        )
        sources = {o.check.file if kind == "derived" else o.check.source for o in chosen}
        middle, largest = sizes[len(sizes) // 2], sizes[-1]
        lines.append(
            f"| {kind} | {len(chosen)} | {len(sources)} |"
            f" {100.0 * middle:.2g} % | {100.0 * largest:.2g} % |"
        )
    return "\n".join(lines)


def folded(summary: str, text: str) -> str:
    """Detail that opens when asked for, on a code host too."""
    return f"<details><summary>{summary}</summary>\n\n{text}\n\n</details>\n"


def curves_text(figures: dict[str, str]) -> str:
    """The page of curves; ``figures`` are captions by file name, relative to the page."""
    shown = [f"![{caption}]({name})\n\n*{caption}*\n" for name, caption in figures.items()]
    return "\n".join([CURVES, *shown])


def page_text(outcomes: list[Outcome]) -> str:
    """The page of checks."""
    parts = [HEAD, "## Summary\n", summary(outcomes) + "\n"]
    shown = ""
    for subject, kind, chosen in by_subject(outcomes):
        if subject != shown:
            parts.append(f"## {subject[0].upper()}{subject[1:]}\n")
            shown = subject
        head = f"### {subject[0].upper()}{subject[1:]}: {kind}"
        parts.append(f"{head}\n\n{folded(f'{len(chosen)} checks', table(chosen))}")
    parts += [MISSING, ADDING, sources()]
    return "\n".join(parts)


def _named(told: dict[str, Any]) -> str:
    if told["author"] == "derived":
        return f"**derived**, *{told['title']}*"
    short = short_source(told["author"], told["year"])
    return f"**{short}.** {told['author']}, *{told['title']}*, {told['year']}"


def _read(told: dict[str, Any]) -> str:
    return "" if told["author"] == "derived" else f"How it was read: {told['how_read']}."


def _age(told: dict[str, Any]) -> tuple[bool, int, str]:
    return told["author"] == "derived", told["year"], told["title"]


def sources() -> str:
    """Every source in full, with what was taken from it, how it was read, and its note."""
    lines: list[str] = []
    files = [tomllib.loads(path.read_text(encoding="utf-8")) for path in FOLDER.glob("*.toml")]
    for data in sorted(files, key=_age):
        lines.append(f"- {_named(data)}: {data['place']}. {_read(data)}")
        if "note" in data:
            lines.append(f"  {data['note']}")
    return f"## Sources\n\n{folded('Every source, with how it was read', chr(10).join(lines))}"


def write_page(outcomes: list[Outcome], page: Path) -> None:
    """Write the page, that of the curves beside it and, in figures/, their figures."""
    sys.path.append(str(DOCS))
    from draw_figures import as_svg
    from published_plots import drawn_figures

    from vlm.show.style import plot_style

    folder = page.parent / "figures"
    folder.mkdir(parents=True, exist_ok=True)
    captions = {}
    with plot_style():
        for name, (figure, caption) in drawn_figures().items():
            file = folder / f"validation_{name}.svg"
            file.write_text(as_svg(figure), encoding="utf-8")
            captions[f"figures/{file.name}"] = caption
    page.write_text(page_text(outcomes), encoding="utf-8")
    (page.parent / "curves.md").write_text(curves_text(captions), encoding="utf-8")
