"""Objects are frozen, as DEVELOPERS.md says: no source but the project's own files.

In the rooms that solve, all of them are; farther up, a few records grow while a command runs.
"""

import re
from pathlib import Path

ROOMS = ("description", "lattice", "flow", "chart", "loads", "sections", "power", "unsteady")
GROW = {"vlm/disk.py CommandFiles"}
MADE = re.compile(r"^ *@dataclass(.*)\n(?: *@.*\n)* *class (\w+)", re.M)


def changeable(source: str) -> set[str]:
    """Dataclasses that can be changed after they were made."""
    return {name for words, name in MADE.findall(source) if "frozen=True" not in words}


def test_dataclasses_of_the_rooms_that_solve_are_frozen(project: Path) -> None:
    paths = [path for room in ROOMS for path in (project / "vlm" / room).glob("*.py")]
    paths += (project / "vlm").glob("*.py")
    assert len(paths) > 100
    found = {
        f"{path.relative_to(project).as_posix()} {name}"
        for path in paths
        for name in changeable(path.read_text(encoding="utf-8"))
    }
    assert found == GROW


def test_one_that_can_be_changed_is_seen() -> None:
    assert changeable("@dataclass(frozen=False)\nclass A: ...") == {"A"}
    assert changeable("@dataclass\nclass A: ...") == {"A"}
    assert changeable("@dataclass(frozen=True)\nclass A: ...\n@cache\ndef b(): ...") == set()
