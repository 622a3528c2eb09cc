"""Each room of the package imports only through the doors that DEVELOPERS.md gives it."""

import ast
import re
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from graphlib import TopologicalSorter
from pathlib import Path

import pytest

PROJECT = Path(__file__).parents[2]
PACKAGE = PROJECT / "vlm"


@dataclass(frozen=True)
class Door:
    """One row of the table: its rooms, and what files there may import."""

    rooms: tuple[str, ...]
    may_import: tuple[str, ...]
    third_party: frozenset[str]


def read_table(text: str) -> list[Door]:
    """The rows between the two comments of DEVELOPERS.md; "ground" stands for the first row."""
    body = text.split("<!-- doors: begin -->")[1].split("<!-- doors: end -->")[0]
    lines = [line for line in body.splitlines() if line.startswith("|")][2:]
    cells = [[cell.strip() for cell in line.strip("|").split("|")] for line in lines]
    rows = [
        (
            tuple(re.findall(r"`([^`]+)`", rooms)),
            tuple(re.findall(r"ground|(?<=`)[\w./]+(?=`)", doors)),
            frozenset(name for name in re.split(r",\s*", third_party) if name),
        )
        for rooms, _, doors, third_party in cells
    ]
    ground = rows[0][0]
    return [
        Door(rooms, tuple(r for d in doors for r in (ground if d == "ground" else (d,))), third)
        for rooms, doors, third in rows
    ]


TABLE = read_table((PROJECT / "DEVELOPERS.md").read_text(encoding="utf-8"))


def door_of(file: str, table: list[Door]) -> Door | None:
    """The row of a file, given relative to vlm/: its own, else its nearest folder's."""
    for name in (file, *folders_of(file)):
        for door in table:
            if name in door.rooms:
                return door
    return None


def folders_of(file: str) -> list[str]:
    """Folders around a file, the nearest first, each with its slash."""
    parts = file.split("/")[:-1]
    return ["/".join(parts[:count]) + "/" for count in range(len(parts), 0, -1)]


def imported_names(source: str) -> Iterator[tuple[int, str]]:
    """Every dotted name that a file imports, with its line; names given as text count too."""
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            for alias in node.names:
                yield node.lineno, alias.name
        elif isinstance(node, ast.ImportFrom):
            yield node.lineno, "." * node.level + (node.module or "")
            if node.module == "vlm":
                for alias in node.names:
                    yield node.lineno, f"vlm.{alias.name}"
        elif (
            isinstance(node, ast.Call)
            and ast.unparse(node.func).rsplit(".", 1)[-1] in {"import_module", "__import__"}
            and node.args
            and isinstance(node.args[0], ast.Constant)
        ):
            yield node.lineno, str(node.args[0].value)


def room_of_import(name: str) -> str:
    """Room or ground file of a dotted name of the package; "__init__.py" for vlm itself."""
    parts = name.split(".")
    if len(parts) == 1:
        return "__init__.py"
    named = {room for door in TABLE for room in door.rooms}
    for count in range(len(parts), 1, -1):
        room = "/".join(parts[1:count]) + "/"
        if (PACKAGE / room).is_dir() and (room in named or count == 2):
            return room
    if (PACKAGE / f"{parts[1]}.py").is_file():
        return f"{parts[1]}.py"
    return "__init__.py"  # a name of vlm/__init__.py


def trespasses(file: str, source: str, table: list[Door]) -> list[str]:
    """What a file imports through no door of its own, one line each."""
    door = door_of(file, table)
    if door is None:
        return [f"vlm/{file}: no row of the table speaks for it"]
    found = []
    own = (*door.rooms, *folders_of(file)[:1])
    for line, name in imported_names(source):
        top = name.split(".")[0]
        if name.startswith("."):
            found.append(f"vlm/{file}:{line} imports relatively: {name}")
        elif top == "vlm":
            room = room_of_import(name)
            if room not in own + door.may_import:
                found.append(f"vlm/{file}:{line} imports {name}, and {room} is not open to it")
        elif top not in sys.stdlib_module_names and top not in door.third_party:
            found.append(f"vlm/{file}:{line} imports {top}, which is not in its row")
    return found


FILES = sorted(path.relative_to(PACKAGE).as_posix() for path in PACKAGE.rglob("*.py"))


@pytest.mark.parametrize("file", FILES)
def test_every_file_keeps_to_its_doors(file: str) -> None:
    source = (PACKAGE / file).read_text(encoding="utf-8")
    assert trespasses(file, source, TABLE) == []


def test_a_room_imports_only_rooms_above_it() -> None:
    """Read from the top, each row opens only rooms of rows already read, so there is no circle."""
    above: set[str] = {"__init__.py"}
    for door in TABLE:
        assert set(door.may_import) <= above, f"{door.rooms} opens a room below it"
        above |= set(door.rooms)


def part_of(room: str, file: str) -> str:
    """The folder of a room, or its own file, that a file belongs to."""
    return file.removeprefix(f"{room}/").split("/")[0].removesuffix(".py")


@pytest.mark.parametrize("room", ["flight", "show", "study"])
def test_folders_of_a_room_import_one_another_one_way(room: str) -> None:
    order: TopologicalSorter[str] = TopologicalSorter()
    for file in (file for file in FILES if file.startswith(f"{room}/")):
        source, own = (PACKAGE / file).read_text(encoding="utf-8"), part_of(room, file)
        for _, name in imported_names(source):
            other = part_of(room, name.removeprefix("vlm.").replace(".", "/"))
            if name.startswith(f"vlm.{room}.") and other != own:
                order.add(own, other)
    order.prepare()  # graphlib of the standard library refuses a circle


def test_rooms_stand_once_and_third_parties_are_dependencies() -> None:
    rooms = [room for door in TABLE for room in door.rooms]
    assert len(rooms) == len(set(rooms))
    declared = (PROJECT / "pyproject.toml").read_text(encoding="utf-8")
    for name in frozenset().union(*(door.third_party for door in TABLE)):
        assert f'"{name}>=' in declared, f"{name} is not a dependency in pyproject.toml"


@pytest.mark.parametrize(
    ("file", "source", "told"),
    [
        ("lattice/x.py", "from vlm.flow.solve import unit_flows", "flow/ is not open"),
        ("lattice/x.py", "import scipy.linalg", "imports scipy"),
        ("flow/x.py", "from numba import njit", "imports numba"),
        ("flow/x.py", "from . import kernel", "imports relatively"),
        ("description/x.py", "from vlm import lattice", "lattice/ is not open"),
        ("show/x.py", "def f():\n    from vlm.loads.surface import x", "loads/ is not open"),
        ("show/x.py", "import importlib\nimportlib.import_module('vlm.loads')", "loads/ is not"),
        ("attic/x.py", "", "no row"),
    ],
)
def test_a_trespass_is_seen(file: str, source: str, told: str) -> None:
    found = trespasses(file, source, TABLE)
    assert len(found) >= 1
    assert told in found[0]


def test_open_doors_are_open() -> None:
    assert trespasses("flow/kernel.py", "from numba import njit\nimport math", TABLE) == []
    assert trespasses("flow/x.py", "from vlm.flow import kernel\nimport scipy", TABLE) == []
    assert trespasses("loads/x.py", "from vlm.errors import InputRefused", TABLE) == []
