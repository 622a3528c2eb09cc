"""Objects are frozen, as DEVELOPERS.md says: no source but the project's own files."""

import re
from pathlib import Path

GROW = {
    "vlm/disk.py CommandFiles", "vlm/flight/plan/fold_search.py FoldTable",
    "vlm/log/craft_prediction.py CraftPower", "vlm/log/rows.py LineRanges",
    "vlm/log/rows.py RowTally", "vlm/study/compare_numbers.py Sheet",
    "vlm/study/design_search.py _Best", "vlm/study/design_study.py Evaluator",
    "vlm/study/design_study.py _Found",
}  # fmt: skip
"""Records that grow while a command runs."""


MADE = re.compile(r"^ *@dataclass(.*)\n(?: *@.*\n)* *class (\w+)", re.M)


def changeable(source: str) -> set[str]:
    """Dataclasses that can be changed after they were made."""
    return {name for words, name in MADE.findall(source) if "frozen=True" not in words}


def test_dataclasses_are_frozen_but_for_those_that_grow(project: Path) -> None:
    found = {
        f"{path.relative_to(project).as_posix()} {name}"
        for path in project.glob("vlm/**/*.py")
        for name in changeable(path.read_text(encoding="utf-8"))
    }
    assert found == GROW


def test_one_that_can_be_changed_is_seen() -> None:
    assert changeable("@dataclass(frozen=False)\nclass A: ...") == {"A"}
    assert changeable("@dataclass\nclass A: ...") == {"A"}
    assert changeable("@dataclass(frozen=True)\nclass A: ...\n@cache\ndef b(): ...") == set()
