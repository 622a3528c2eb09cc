"""Every python and console block of README.md and docs/ runs and prints what it says it prints.

The blocks of one page run in order, in one empty folder: python blocks share their names, console
blocks their files. How blocks are marked stands in DEVELOPERS.md.
"""

import contextlib
import io
import os
import re
import subprocess
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

PROJECT = Path(__file__).parents[2]
FENCE = re.compile(
    r"^(?P<fence>`{3,})(?P<language>[\w-]*)[^\n]*\n(?P<body>.*?)^(?P=fence) *$", re.M | re.S
)
COMMENT = re.compile(r"<!-- ((?:(?!-->).)+?) -->\s*\Z", re.S)
NUMBER = re.compile(r"(?<![\w.])[-+]?\d+(?:\.\d+)?(?:[eE][-+]?\d+)?(?![\w.]|\.\d)")


@dataclass(frozen=True)
class Block:
    """One fenced block: its language, text, line in the page, and the comment above it."""

    language: str
    body: str
    line: int
    comment: str

    @property
    def left_out(self) -> bool:
        """Whether the page says why this block is not run."""
        return bool(re.match(r"not run: \w.+", self.comment))


def blocks_of(text: str) -> list[Block]:
    """All fenced blocks of a page."""
    found = []
    for match in FENCE.finditer(text):
        above = COMMENT.search(text[: match.start()])
        line = text.count("\n", 0, match.start()) + 1
        found.append(
            Block(match["language"], match["body"], line, above[1].strip() if above else "")
        )
    return found


def last_digit(number: str) -> float:
    """One unit of the last digit of a printed number: 0.01 for 1.25, 10 for 1.2e2, 0 for 90."""
    if number.lstrip("+-").isdigit():
        return 0.0
    mantissa, _, exponent = number.lower().partition("e")
    decimals = len(mantissa.partition(".")[2])
    return float(10.0 ** (int(exponent or 0) - decimals))


def line_agrees(expected: str, printed: str) -> bool:
    """Same words; ``...`` is any text; numbers with a point agree within one in the last digit."""
    if re.fullmatch(r"[-=\s|+]+", expected.strip() or "-"):
        return bool(re.fullmatch(r"[-=\s|+]*", printed.strip()))
    pattern, numbers, place = "", [], 0
    text = " ".join(expected.split())
    for match in re.finditer(rf"\.\.\.|{NUMBER.pattern}", text):
        pattern += re.escape(text[place : match.start()])
        place = match.end()
        if match[0] == "...":
            pattern += ".*"
        else:
            pattern += r"([-+]?\d+(?:\.\d+)?(?:[eE][-+]?\d+)?)"
            numbers.append(match[0])
    pattern += re.escape(text[place:])
    found = re.fullmatch(pattern, " ".join(printed.split()))
    return found is not None and all(
        abs(float(want) - float(got)) <= 1.000001 * last_digit(want)
        for want, got in zip(numbers, found.groups(), strict=True)
    )


def disagreement(expected: str, printed: str) -> str | None:
    """None if the text agrees line by line; a line of ``...`` alone stands for any lines."""
    want = list(expected.rstrip().splitlines())
    have = list(printed.rstrip().splitlines())
    if _lines_agree(want, have):
        return None
    return f"the page says\n{expected.rstrip()}\nbut this was printed\n{printed.rstrip()}"


def _lines_agree(want: list[str], have: list[str]) -> bool:
    if not want:
        return not have
    if want[0].strip() == "...":
        return any(_lines_agree(want[1:], have[skip:]) for skip in range(len(have) + 1))
    return bool(have) and line_agrees(want[0], have[0]) and _lines_agree(want[1:], have[1:])


def commands_of(body: str) -> list[tuple[str, str]]:
    """The commands of a console block, each with the text that the page shows below it."""
    parts = re.split(r"^\$ ", body, flags=re.M)
    assert not parts[0].strip(), "a console block starts with a command: $ ..."
    commands = []
    for part in parts[1:]:
        lines = part.splitlines()
        count = 1
        while lines[count - 1].endswith("\\"):
            count += 1
        commands.append(("\n".join(lines[:count]), "\n".join(lines[count:])))
    return commands


def run_console(body: str, folder: Path, environment: Mapping[str, str]) -> None:
    """Run a block: each command must end well and print what the page shows, if anything."""
    for command, expected in commands_of(body):
        run = subprocess.run(
            ["bash", "-euo", "pipefail", "-c", command],
            cwd=folder,
            env=dict(environment),
            stdin=subprocess.DEVNULL,
            capture_output=True,
            text=True,
            timeout=300,
        )
        ends = re.search(r"^\[exit status (\d+)\]$", expected, re.M)
        status = int(ends[1]) if ends else 0
        assert run.returncode == status, f"$ {command}\n{run.stdout}{run.stderr}"
        shown = expected.replace(ends[0], "") if ends else expected
        if shown.strip():
            printed = run.stdout + (run.stderr if status else "")
            wrong = disagreement(shown.strip("\n"), printed.strip("\n"))
            assert wrong is None, f"$ {command}\n{wrong}"


def run_python(block: Block, page: Path, names: dict[str, object]) -> str:
    """Run a python block in the page's names; what it printed."""
    printed = io.StringIO()
    # Lines count from the top of the page, so that a traceback shows the page's own.
    code = compile("\n" * block.line + block.body, str(page), "exec")
    with contextlib.redirect_stdout(printed):
        exec(code, names)
    return printed.getvalue()


def run_page(page: Path, folder: Path, environment: Mapping[str, str]) -> None:
    """Run all blocks of a page in order."""
    names: dict[str, object] = {"__name__": "__main__"}
    printed = ""
    for block in blocks_of(page.read_text(encoding="utf-8")):
        if block.left_out:
            continue
        where = f"{page.name}, line {block.line}"
        if block.language == "console":
            run_console(block.body, folder, environment)
        elif block.language == "python":
            printed = run_python(block, page, names)
        elif block.language == "text" and block.comment == "printed":
            wrong = disagreement(block.body, printed)
            assert wrong is None, f"{where}: {wrong}"


def pages() -> list[Path]:
    made = {"generated", "_build"}
    found = [p for p in (PROJECT / "docs").rglob("*.md") if not made & set(p.parts)]
    return [PROJECT / "README.md", PROJECT / "DEVELOPERS.md", *sorted(found)]


LONG = {"docs/design.md", "docs/fins.md", "docs/flight_log.md", "docs/hinge.md",
        "docs/motion.md", "docs/power.md", "docs/tutorials/choose_a_fold.md",
        "docs/tutorials/read_a_log.md", "docs/tutorials/size_a_servo.md"}  # fmt: skip
"""Pages whose blocks take more than ten seconds of a processor, but for the first ones to read."""


def cases() -> list[Any]:
    """Pages by name; long ones are a study."""
    named = {page.relative_to(PROJECT).as_posix(): page for page in pages()}
    return [
        pytest.param(page, id=name, marks=[pytest.mark.slow] if name in LONG else [])
        for name, page in named.items()
    ]


@pytest.fixture(scope="module")
def readers_environment(
    tmp_path_factory: pytest.TempPathFactory, quick_environment: Mapping[str, str]
) -> dict[str, str]:
    """What one command has solved is kept for the next, as it is for who reads page after page."""
    kept = {"FOLDSPAN_NO_CACHE": "", "FOLDSPAN_CACHE_DIR": str(tmp_path_factory.mktemp("kept"))}
    return {**quick_environment, **kept}


@pytest.mark.parametrize("page", cases())
def test_blocks_run_and_print_what_the_page_says(
    page: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    readers_environment: Mapping[str, str],
) -> None:
    monkeypatch.chdir(tmp_path)
    for name in ("FOLDSPAN_NO_CACHE", "FOLDSPAN_CACHE_DIR"):
        monkeypatch.setenv(name, readers_environment[name])
    run_page(page, tmp_path, readers_environment)


def setup_command(name: str) -> str:
    """One of the two set-up commands of the README, found by the comment above its block."""
    blocks = blocks_of((PROJECT / "README.md").read_text(encoding="utf-8"))
    (block,) = [block for block in blocks if block.comment == f"setup: {name}"]
    assert block.language == "sh"
    (line,) = block.body.strip().splitlines()
    return line


def test_the_first_command_sweeps_a_shipped_craft(
    tmp_path: Path, command_environment: Mapping[str, str]
) -> None:
    """Its last part, without the installation, which .ci/run does as it is written."""
    *_, last = setup_command("use").split("&&")
    assert last.strip().startswith(".venv/bin/foldspan sweep ")
    run = subprocess.run(
        ["bash", "-euc", last.replace(".venv/bin/", "")],
        cwd=tmp_path,
        env=dict(command_environment),
        capture_output=True,
        text=True,
    )
    assert run.returncode == 0, run.stderr
    assert "CL" in run.stdout
    written = {path.suffix: path.stat().st_size for path in tmp_path.rglob("*") if path.is_file()}
    assert written[".nc"] > 1000
    assert written[".png"] > 1000


def test_the_second_command_makes_an_environment_of_its_own_and_tests() -> None:
    parts = [part.strip() for part in setup_command("test").split("&&")]
    assert parts[0].startswith("python3 -m venv --clear .venv-test"), "a stale one is cleared away"
    assert "[test]" in parts[1]
    assert parts[-1].startswith(".venv-test/bin/")
    assert "pytest" in parts[-1]


@pytest.mark.parametrize(
    ("expected", "printed", "agree"),
    [
        ("CL 0.512", "CL   0.513", True),
        ("CL 0.512", "CL 0.514", False),
        ("e 1.25e-3", "e 1.26e-3", True),
        ("e 1.25e-3", "e 1.27e-3", False),
        ("wrote ... in 3 s", "wrote a.nc and b.png in 3 s", True),
        ("wrote ... in 3 s", "wrote a.nc in 9 s", False),
        ("upper_left 1", "upper_right 1", False),
        ("tip2 up", "tip3 up", False),
        ("-----  ---", "------------  -----", True),
        ("fold -90", "fold 90", False),
        ("fold 90", "fold 91", False),
    ],
)
def test_a_line_agrees_within_its_last_digit(expected: str, printed: str, agree: bool) -> None:
    assert line_agrees(expected, printed) is agree


def test_lines_may_be_left_out_but_not_missed() -> None:
    assert disagreement("a\n...\nz", "a\nb\nc\nz") is None
    assert disagreement("a\nz", "a\nb\nz") is not None
    assert disagreement("a\nb", "a") is not None
    assert disagreement("a", "a\nb") is not None


def written_page(folder: Path, text: str) -> Path:
    page = folder / "page.md"
    page.write_text(text.replace("~~~", "```"), encoding="utf-8")
    return page


@pytest.mark.parametrize(
    "text",
    [
        "~~~python\nassert 1 + 1 == 3\n~~~\n",
        "~~~python\nprint(1.25)\n~~~\n\n<!-- printed -->\n~~~text\n1.29\n~~~\n",
        "~~~console\n$ false\n~~~\n",
        "~~~console\n$ echo 1\n2\n~~~\n",
        "~~~console\n$ echo 1\n[exit status 2]\n~~~\n",
    ],
)
def test_drift_is_seen(text: str, tmp_path: Path) -> None:
    with pytest.raises((AssertionError, OSError)):
        run_page(written_page(tmp_path, text), tmp_path, os.environ)


def test_a_true_page_passes(tmp_path: Path) -> None:
    text = (
        "~~~python\nx = 1.25\nprint('x is', x)\n~~~\n\n<!-- printed -->\n\n~~~text\nx is 1.3\n~~~\n"
        "~~~python\nassert x == 1.25\n~~~\n"
        "~~~console\n$ echo one > a.txt\n$ cat a.txt\none\n$ cat none.txt\n[exit status 1]\n~~~\n"
        "<!-- not run: it would never end -->\n~~~console\n$ sleep 60\n~~~\n"
        "~~~sh\nfalse\n~~~\n"
    )
    run_page(written_page(tmp_path, text), tmp_path, os.environ)
