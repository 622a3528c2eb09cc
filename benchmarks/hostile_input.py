"""How commands end on hostile input: thousands of cases, in portions, taken up where they stopped.

    python benchmarks/hostile_input.py --record FILE [--minutes M] [--cases N] [--set NAME]
    python benchmarks/hostile_input.py --record FILE --table

The cases are those of the slow tests (``tests/grammar.py``, ``tests/mutations.py``): N of each set.
Each portion runs in a process of its own with warnings as errors; a case that does not end within
two minutes of the processor, or that ends its process, counts as a fault. FILE has one line of JSON
a case, and cases that stand in it are not run again; take lines out to run cases again.
"""

import argparse
import contextlib
import io
import json
import os
import resource
import signal
import subprocess
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path
from typing import Any

from vlm.cli.commands import COMMANDS

TESTS = Path(__file__).parents[1] / "tests"
sys.path[:0] = [str(TESTS), str(TESTS / "cli")]

SETS = ("grammar", "mutations")
PORTION = 40
MOST_SECONDS = 120.0  # of the processor; the tests ask for 60
STUCK = 3600.0  # without a line on record, on however busy a machine
Row = dict[str, Any]


class NoEnd(BaseException):
    """A case takes too long; no handler of errors is to take it for one of its own."""


def too_long(*_: object) -> None:
    raise NoEnd


class Captured:
    """What a case printed, as the tests ask for it."""

    def __init__(self) -> None:
        self.out, self.err = io.StringIO(), io.StringIO()

    def readouterr(self) -> tuple[str, str]:
        return self.out.getvalue(), self.err.getvalue()


def row_of(kind: str, number: int, folder: Path) -> Row:
    """Run a case: its command, exit status, seconds and what it broke."""
    from grammar import grammar_case, hands_on_explorer
    from mutations import hostile_case
    from test_fuzz import run_case

    case = grammar_case(number) if kind == "grammar" else hostile_case(number)
    row: Row = {"set": kind, "number": number, "command": case.words[0], "status": None}
    printed, started = Captured(), time.process_time()
    with (
        contextlib.redirect_stdout(printed.out),
        contextlib.redirect_stderr(printed.err),
        hands_on_explorer(),
    ):
        try:
            signal.setitimer(signal.ITIMER_PROF, MOST_SECONDS)
            row["status"] = run_case(case, folder / str(number), printed)
        except AssertionError as failed:
            row["fault"] = str(failed)[:3000]
        except NoEnd:
            row["fault"] = f"no end in {MOST_SECONDS:g} s of the processor: {' '.join(case.words)}"
        finally:
            signal.setitimer(signal.ITIMER_PROF, 0.0)
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return row | {"seconds": round(time.process_time() - started, 2), "peak_MB": memory // 1024}


def run_portion(record: Path, kind: str, numbers: list[int]) -> None:
    """Run cases in this process, a line in the record after each."""
    signal.signal(signal.SIGPROF, too_long)
    with tempfile.TemporaryDirectory() as folder, record.open("a", encoding="utf-8") as lines:
        for number in numbers:
            lines.write(json.dumps(row_of(kind, number, Path(folder))) + "\n")
            lines.flush()


def rows_in(record: Path) -> list[Row]:
    """What is on record, one row a case."""
    if not record.exists():
        return []
    return [json.loads(line) for line in record.read_text(encoding="utf-8").splitlines()]


def portion_in_a_process(record: Path, kind: str, numbers: list[int]) -> None:
    """Run a portion; a case that ends the process, or does not end, is put on record as a fault."""
    words = [sys.executable, "-W", "error", __file__, "--record", str(record), "--set", kind]
    child = subprocess.Popen(
        [*words, "--numbers", *map(str, numbers)],
        stderr=subprocess.PIPE, text=True, errors="replace",
        env=os.environ | {"MPLBACKEND": "Agg", "PYVISTA_OFF_SCREEN": "true"},
    )  # fmt: skip
    size, changed = -1, time.monotonic()
    while child.poll() is None:
        time.sleep(0.5)
        now = record.stat().st_size if record.exists() else 0
        if now != size:
            size, changed = now, time.monotonic()
        elif time.monotonic() - changed > STUCK:
            child.kill()
    _, said = child.communicate()
    done = {row["number"] for row in rows_in(record) if row["set"] == kind}
    lost = next((number for number in numbers if number not in done), None)
    if lost is not None:
        fault = f"the process ended with {child.returncode}: {said[-1500:]}"
        row = {"set": kind, "number": lost, "command": "?", "status": None, "fault": fault}
        with record.open("a", encoding="utf-8") as lines:
            lines.write(json.dumps(row) + "\n")


def run_all(record: Path, kinds: tuple[str, ...], cases: int, minutes: float) -> None:
    """Portions of the sets in turn, until all is on record or the time is up."""
    end = time.monotonic() + 60.0 * minutes
    while time.monotonic() < end:
        done = {(row["set"], row["number"]) for row in rows_in(record)}
        left = {kind: [n for n in range(cases) if (kind, n) not in done] for kind in kinds}
        if not any(left.values()):
            return
        for kind, numbers in left.items():
            if numbers and time.monotonic() < end:
                portion_in_a_process(record, kind, numbers[:PORTION])


def table(rows: list[Row]) -> str:
    """Endings by set and command, as a table of Markdown."""
    lines = [
        "| set | command | cases | result | refused | not completed | broken promise |"
        " longest [s] | most memory [MB] |",
        "| --- | --- | ---: | ---: | ---: | ---: | ---: | ---: | ---: |",
    ]
    for kind in SETS:
        mine = [row for row in rows if row["set"] == kind]
        for row in mine:
            row["command"] = row["command"] if row["command"] in COMMANDS else "no command"
        groups = [(name, [r for r in mine if r["command"] == name])
                  for name in sorted({row["command"] for row in mine})]  # fmt: skip
        for name, group in [*groups, ("all", mine)]:
            ends = Counter("fault" if "fault" in row else row["status"] for row in group)
            longest = max((row.get("seconds", 0.0) for row in group), default=0.0)
            memory = max((row.get("peak_MB", 0) for row in group), default=0)
            lines.append(
                f"| {kind} | {name} | {len(group)} | {ends[0]} | {ends[2]} | {ends[3]}"
                f" | {ends['fault']} | {longest:.0f} | {memory} |"
            )
    return "\n".join(lines)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--record", type=Path, required=True)
    parser.add_argument("--cases", type=int, default=10_000)
    parser.add_argument("--minutes", type=float, default=1e9)
    parser.add_argument("--set", choices=SETS)
    parser.add_argument("--numbers", type=int, nargs="*", help="run these, in this process")
    parser.add_argument("--table", action="store_true")
    asked = parser.parse_args()
    if asked.numbers:
        run_portion(asked.record, asked.set, asked.numbers)
        return
    if not asked.table:
        kinds = (asked.set,) if asked.set else SETS
        run_all(asked.record, kinds, asked.cases, asked.minutes)
    rows = rows_in(asked.record)
    print(table(rows))
    for row in rows:
        if "fault" in row:
            print(f"\n{row['set']} {row['number']}: {row['fault']}")


if __name__ == "__main__":
    main()
