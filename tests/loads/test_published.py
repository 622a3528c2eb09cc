"""Every published value of tests/published/, by one generic test."""

from collections.abc import Callable
from pathlib import Path

import published_checks
import pytest
from published_checks import (
    KINDS,
    SUBJECTS,
    BadCheck,
    Check,
    Outcome,
    all_checks,
    read_file,
    reference_value,
    run,
)

CHECKS = all_checks()
CROSS_CHECKED = [check for check in CHECKS if check.reference is not None]


WRITE = "python tests/published_checks.py --write docs/validation.md"


@pytest.fixture(scope="module")
def page(project: Path) -> str:
    return (project / "docs" / "validation.md").read_text(encoding="utf-8")


def shown_value(page: str, check: Check) -> float:
    """Our number as the page has it, from the row of the check's name and source."""
    for line in page.splitlines():
        cells = [cell.strip() for cell in line.strip().strip("|").split(" | ")]
        if len(cells) > 5 and cells[0] == check.name and cells[5].startswith(check.short_source):
            return float(cells[2])
    raise AssertionError(f"docs/validation.md has no row for {check.label}; run {WRITE}")


@pytest.mark.parametrize("check", CHECKS, ids=lambda check: check.label)
def test_published_value(
    check: Check, page: str, record_property: Callable[[str, object], None]
) -> None:
    outcome = run(check)
    record_property("relative_error", outcome.relative)
    record_property("digits_of_agreement", outcome.digits)
    print(outcome.told)
    assert outcome.passed, f"{outcome.told}\n{check.reason}"
    drift = max(0.1 * check.tolerance, 1e-4 * abs(outcome.ours))
    assert abs(shown_value(page, check) - outcome.ours) <= drift, f"the page is old; run {WRITE}"


@pytest.mark.parametrize("check", CROSS_CHECKED, ids=lambda check: check.label)
def test_published_value_agrees_with_an_independent_solver(check: Check) -> None:
    """What was remembered or converged is reproduced by theory of its own, in tests/reference/."""
    assert check.reference is not None
    ours = reference_value(check)
    allowed = float(check.reference["tolerance_relative"]) * abs(check.published)
    assert abs(ours - check.published) <= allowed, (check.published, ours)


def test_enough_values_from_enough_sources_over_all_subjects() -> None:
    outside = [check for check in CHECKS if check.kind != "derived"]
    assert len(outside) >= 40
    assert len({check.source for check in outside}) >= 15
    assert {check.subject for check in CHECKS} == set(SUBJECTS)
    assert {check.kind for check in CHECKS} == set(KINDS)


def test_labels_are_unique() -> None:
    labels = [check.label for check in CHECKS]
    assert len(labels) == len(set(labels))


def test_the_page_of_curves_shows_every_figure(project: Path) -> None:
    page = (project / "docs/curves.md").read_text(encoding="utf-8")
    figures = list((project / "docs" / "figures").glob("validation_*.svg"))
    assert len(figures) >= 5
    assert [figure.name for figure in figures if f"(figures/{figure.name})" not in page] == []


@pytest.mark.slow
def test_the_page_and_its_figures_can_be_written(tmp_path: Path, page: str) -> None:
    written = tmp_path / "validation.md"
    assert published_checks.main(["--write", str(written)]) == 0
    assert len(list((tmp_path / "figures").glob("validation_*.svg"))) >= 5
    headings = [line for line in page.splitlines() if line.startswith("#")]
    assert [h for h in written.read_text().splitlines() if h.startswith("#")] == headings
    curves = Path(__file__).parents[2] / "docs/curves.md"
    assert (tmp_path / "curves.md").read_text() == curves.read_text()


def outcome(bound: str, published: float, tolerance: float, ours: float) -> Outcome:
    words = dict.fromkeys(
        ("file", "name", "subject", "kind", "source", "place", "how_read", "short_source",
         "quantity", "tolerance_text", "reason"), "x",
    )  # fmt: skip
    check = Check(
        **words, case={}, arguments={}, over=None, bound=bound, published=published,
        tolerance=tolerance,
    )  # fmt: skip
    return Outcome(check, ours)


@pytest.mark.parametrize(
    ("bound", "published", "tolerance", "ours", "passes"),
    [
        ("expected", 2.0, 0.1, 2.09, True),
        ("expected", 2.0, 0.1, 2.11, False),
        ("expected", -2.0, 0.1, -2.11, False),
        ("at_least", 1.0, 0.0, 0.99, False),
        ("at_least", 1.0, 0.0, 1.01, True),
        ("at_most", 1.0, 0.0, 1.01, False),
        ("expected", 1.0, 0.1, float("nan"), False),
        ("at_least", 1.0, 0.0, float("nan"), False),
    ],
)
def test_a_check_can_fail(
    bound: str, published: float, tolerance: float, ours: float, passes: bool
) -> None:
    assert outcome(bound, published, tolerance, ours).passed is passes


def test_digits_of_agreement() -> None:
    assert outcome("expected", 2.0, 0.1, 2.002).digits == pytest.approx(3.0)
    assert outcome("expected", 2.0, 0.1, 2.0).digits == published_checks.MOST_DIGITS


@pytest.mark.parametrize(
    ("changed", "told"),
    [
        ('name = "x"\nexpectd = 1.0', "unknown keys"),
        ('name = "x"\nexpected = 1.0', "tolerance needs its reason"),
        ('name = "x"\ntolerance_reason = "because of that"', "one of expected"),
        ('name = "x"\nexpected = 1.0\ntolerance_reason = "because of that"', "tolerance_relative"),
    ],
)
def test_a_careless_file_is_refused(tmp_path: Path, changed: str, told: str) -> None:
    head = 'author = "A"\ntitle = "T"\nyear = 1900\nplace = "p"\nhow_read = "derived"\n'
    head += 'kind = "theory"\nsubject = "sweep"\n'
    path = tmp_path / "a.toml"
    path.write_text(f"{head}[[check]]\n{changed}\n")
    with pytest.raises(BadCheck, match=told):
        read_file(path)
