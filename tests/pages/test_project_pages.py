"""Links between the project's pages lead somewhere, and equations keep their numbers."""

import ast
import re
from pathlib import Path

import pytest

PROJECT = Path(__file__).parents[2]
LINK = re.compile(r"\]\((?!https?:|#|mailto:)([^)#\s]+)(?:#[^)]*)?\)")


@pytest.mark.parametrize("page", ["README.md", "DEVELOPERS.md"])
def test_links_lead_to_files(page: str) -> None:
    links = LINK.findall((PROJECT / page).read_text(encoding="utf-8"))
    missing = [link for link in links if not (PROJECT / link).exists()]
    assert missing == []


# The rooms whose equations docs/theory.md holds; others number theirs file by file.
NUMBERED_ROOMS = ("lattice", "flow", "loads", "study")


def numbers_in_code() -> dict[int, str]:
    """Numbers at the end of equations in docstrings (a line that ends in spaces and "(7)")."""
    found: dict[int, str] = {}
    paths = [path for room in NUMBERED_ROOMS for path in (PROJECT / "vlm" / room).rglob("*.py")]
    for path in sorted(paths):
        tree = ast.parse(path.read_text(encoding="utf-8"))
        for node in ast.walk(tree):
            if isinstance(node, ast.Module | ast.FunctionDef | ast.ClassDef):
                for number in re.findall(r"  \((\d+)\)$", ast.get_docstring(node) or "", re.M):
                    place = path.relative_to(PROJECT).as_posix()
                    assert int(number) not in found, f"({number}) is in {place} and elsewhere"
                    found[int(number)] = place
    return found


def test_the_theory_has_an_equation_for_every_number_in_the_code() -> None:
    """Sphinx numbers the labelled equations of docs/theory.md from 1 in their order."""
    theory = (PROJECT / "docs/theory.md").read_text(encoding="utf-8")
    count = len(re.findall(r"^\$\$ \(eq-[\w-]+\)$", theory, re.M))
    assert sorted(numbers_in_code()) == list(range(1, count + 1))
