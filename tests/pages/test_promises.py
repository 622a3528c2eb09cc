"""The page of promises names tests that exist and figures that the tests and pages agree with.

No source but the project's own files.
"""

import re
from pathlib import Path

import pytest
from test_forks import MANY
from test_fuzz import QUICK

from vlm.cli.commands import COMMANDS


@pytest.fixture(scope="module")
def page(project: Path) -> str:
    return (project / "docs" / "promises.md").read_text(encoding="utf-8")


def rows(page: str) -> list[list[str]]:
    """Cells of the page's first table, without its head."""
    table = page.split("| --- | --- | --- |\n")[1].split("\n\n")[0]
    return [[cell.strip() for cell in line.strip("|").split("|")] for line in table.splitlines()]


def test_every_promise_is_held_by_something_that_exists(page: str, project: Path) -> None:
    found = rows(page)
    assert len(found) > 12
    for promise, held, _ in found:
        named = re.findall(r"`((?:tests|\.ci)/[\w./]+)`", held)
        assert named, promise
        for name in named:
            assert (project / name).is_file(), name


def test_figures_are_those_of_the_tests_and_of_validation(page: str, project: Path) -> None:
    validation = (project / "docs" / "validation.md").read_text(encoding="utf-8")
    kinds = re.findall(
        r"^\| (?:theory|derived|experiment|regression) \| (\d+) \|", validation, re.M
    )
    assert len(kinds) == 4
    assert f"{sum(map(int, kinds))} checks, all within" in page
    assert f"{spaced(MANY)} cases of each set *slow*" in page
    assert f"{QUICK} quick" in page


def spaced(number: int) -> str:
    return f"{number:,}".replace(",", " ")


def test_the_table_of_hostile_cases_adds_up(page: str) -> None:
    """Every command has cases, and the ends add up to them; as many are run as the text says."""
    cells = re.findall(
        r"^\| (grammar|mutations) \| ([\w ]+) \| (\d+) \| (\d+) \| (\d+) \| (\d+) \| (\d+) \|",
        page, re.M,
    )  # fmt: skip
    rows = {(kind, name): [int(one) for one in ends] for kind, name, *ends in cells}
    for kind in ("grammar", "mutations"):
        parts = [ends for (of, name), ends in rows.items() if of == kind and name != "all"]
        assert [sum(column) for column in zip(*parts, strict=True)] == rows[kind, "all"]
    assert all(cases == sum(ends) for cases, *ends in rows.values())
    assert {name for kind, name in rows if kind == "grammar"} >= set(COMMANDS)
    run = sum(rows[kind, "all"][0] for kind in ("grammar", "mutations"))
    assert f"{spaced(run)} of {spaced(2 * MANY)} cases" in page


def test_the_promised_share_of_lines_is_reached(page: str) -> None:
    reached = re.search(r"uncompiled: ([\d.]+) % of", page)
    assert reached is not None
    assert float(reached[1]) >= 95.0


def test_every_mutant_that_was_drawn_is_accounted_for(page: str) -> None:
    rows = re.findall(
        r"^\| [\w, ()]+ \| \d+ \| (\d+) \| (\d+) \| (\d+) \| (\d+) \| (\d+) \|$", page, re.M
    )
    assert len(rows) >= 3
    for drawn, *ends in rows:
        assert int(drawn) == sum(map(int, ends))


def test_the_index_leads_to_the_page(project: Path) -> None:
    assert "\npromises\n" in (project / "docs" / "index.md").read_text(encoding="utf-8")
