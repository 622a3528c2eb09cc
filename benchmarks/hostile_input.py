"""How commands end on hostile input: thousands of cases, taken up where they stopped.

    python benchmarks/hostile_input.py --record FILE [--minutes M] [--cases N] [--set NAME]
                                       [--backward]
    python benchmarks/hostile_input.py --record FILE --numbers 3 17 --set grammar
    python benchmarks/hostile_input.py --record FILE --table [--page PAGE --day DAY]

The cases are those of the slow tests (``tests/grammar.py``, ``tests/mutations.py``): N of each set,
in turn. Each runs in a fork of one process that has loaded everything (``tests/forked.py``), with
warnings as errors and hard limits on time and memory. What is checked: no traceback, an exit status
that is promised, one clear message where it is not 0, JSON without NaN, no input changed, nothing
half written, nothing left in the folder of temporary files. FILE has one line of JSON a case; cases
that stand in it are not run again; take lines out to run cases again. --page writes the table into
a page, between its marks.
"""

import argparse
import json
import os
import shutil
import subprocess
import sys
import tempfile
import time
from collections import Counter
from contextlib import suppress
from pathlib import Path
from typing import Any

from vlm.cli.commands import COMMANDS

TESTS = Path(__file__).parents[1] / "tests"
sys.path[:0] = [str(TESTS), str(TESTS / "cli")]

SETS = ("grammar", "mutations")
MARKS = ("<!-- hostile cases: begin -->", "<!-- hostile cases: end -->")
Row = dict[str, Any]


def row_of(kind: str, number: int, folder: Path) -> Row:
    """Run a case: its command, exit status, seconds, memory and what it broke."""
    from forked_cases import broken_promise, ended_case
    from grammar import grammar_case
    from mutations import hostile_case

    case = grammar_case(number) if kind == "grammar" else hostile_case(number)
    ended = ended_case(case, folder)
    row: Row = {
        "set": kind, "number": number, "command": case.words[0] if case.words else "",
        "status": ended.status, "seconds": ended.seconds, "peak_MB": ended.peak_mb,
    }  # fmt: skip
    fault = broken_promise(case, folder, ended)
    if fault is not None:
        shown = " ".join(word[:80] for word in case.words)
        row["fault"] = f"{shown!r}\n{case.what[:400]!r}\n{fault[:3000]}"
    return row


def rows_in(record: Path) -> list[Row]:
    """What is on record, one row a case; a line that a stop cut off counts as not there."""
    rows: list[Row] = []
    if record.exists():
        for line in record.read_text(encoding="utf-8").splitlines():
            with suppress(json.JSONDecodeError):
                rows.append(json.loads(line))
    return rows


def run_all(record: Path, todo: list[tuple[str, int]], minutes: float) -> None:
    """Cases in turn, a line in the record after each, until the time is up."""
    from forked import load_everything

    load_everything()
    end = time.monotonic() + 60.0 * minutes
    with tempfile.TemporaryDirectory() as made, record.open("a", encoding="utf-8") as lines:
        lines.write("" if not record.stat().st_size or _ends_a_line(record) else "\n")
        for kind, number in todo:
            if time.monotonic() > end:
                return
            folder = Path(made) / f"{kind} {number}" / "work"
            folder.parent.mkdir()
            lines.write(json.dumps(row_of(kind, number, folder)) + "\n")
            lines.flush()
            shutil.rmtree(folder.parent, ignore_errors=True)


def _ends_a_line(path: Path) -> bool:
    return path.read_bytes().endswith(b"\n")


def table(rows: list[Row]) -> str:
    """Endings by set and command, as a table of Markdown."""
    lines = [
        "| set | command | cases | result | refused | not completed | broken promise |"
        " mean [s] | longest [s] | most memory [MB] |",
        "| --- | --- | ---: | ---: | ---: | ---: | ---: | ---: | ---: | ---: |",
    ]
    for kind in SETS:
        mine = [row for row in rows if row["set"] == kind]
        for row in mine:
            row["command"] = row["command"] if row["command"] in COMMANDS else "no command"
        groups = [(name, [r for r in mine if r["command"] == name])
                  for name in sorted({row["command"] for row in mine})]  # fmt: skip
        for name, group in [*groups, ("all", mine)] if mine else ():
            ends = Counter("fault" if "fault" in row else row["status"] for row in group)
            seconds = [row["seconds"] for row in group]
            lines.append(
                f"| {kind} | {name} | {len(group)} | {ends[0]} | {ends[2]} | {ends[3]}"
                f" | {ends['fault']} | {sum(seconds) / len(group):.2f} | {max(seconds):.0f}"
                f" | {max(row['peak_MB'] for row in group)} |"
            )
    return "\n".join(lines)


def put_between(page: Path, marks: tuple[str, str], said: str) -> None:
    """Replace what stands between two marks of a page."""
    before, begin, rest = page.read_text(encoding="utf-8").partition(marks[0])
    _, end, after = rest.partition(marks[1])
    if not end:
        raise SystemExit(f"{page} has no {' and '.join(marks)}")
    page.write_text(f"{before}{begin}\n{said}\n\n{end}{after}", encoding="utf-8")


def write_page(page: Path, rows: list[Row], day: str, whole: int) -> None:
    """Put how many cases were run, how they ended and the table between the marks of a page."""
    counts = Counter(row["set"] for row in rows)
    faults = sum("fault" in row for row in rows)
    numbers = [f"{number:,}".replace(",", " ") for number in (len(rows), whole)]
    said = (
        f"Until {day} {numbers[0]} of {numbers[1]} cases were run, {counts['grammar']} by grammar"
        f" and {counts['mutations']} mutations: {faults or 'none'} broke a promise."
    )
    put_between(page, MARKS, f"{said}\n\n{table(rows)}")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--record", type=Path, required=True)
    parser.add_argument("--cases", type=int, default=10_000)
    parser.add_argument("--backward", action="store_true", help="from the last case down")
    parser.add_argument("--minutes", type=float, default=1e9)
    parser.add_argument("--set", choices=SETS)
    parser.add_argument("--numbers", type=int, nargs="*", help="run these")
    parser.add_argument("--table", action="store_true")
    parser.add_argument("--page", type=Path)
    parser.add_argument("--day", default="")
    asked = parser.parse_args()
    kinds = (asked.set,) if asked.set else SETS
    if not asked.table:
        done = {(row["set"], row["number"]) for row in rows_in(asked.record)}
        numbers = asked.numbers or range(asked.cases)[:: -1 if asked.backward else 1]
        run_all(
            asked.record,
            [(kind, n) for n in numbers for kind in kinds if (kind, n) not in done],
            asked.minutes,
        )
    rows = list({(row["set"], row["number"]): row for row in rows_in(asked.record)}.values())
    print(table(rows))
    if asked.page is not None:
        write_page(asked.page, rows, asked.day, len(SETS) * asked.cases)
    for row in rows:
        if "fault" in row:
            print(f"\n{row['set']} {row['number']}: {row['fault']}")


def in_the_right_surroundings() -> None:
    """Start this program again where its threads and warnings are not as forks need them."""
    from forked import SURROUNDINGS

    if any(os.environ.get(name) != value for name, value in SURROUNDINGS.items()):
        words = [sys.executable, "-W", "error", *sys.argv]
        sys.exit(subprocess.call(words, env=os.environ | SURROUNDINGS))


if __name__ == "__main__":
    in_the_right_surroundings()
    main()
