"""Commands interrupted and killed at random moments, hundreds of times, taken up where it stopped.

    python benchmarks/stopped_commands.py --record FILE [--trials N] [--minutes M] [--command NAME]
    python benchmarks/stopped_commands.py --record FILE --table [--page PAGE --day DAY]

Of eight trials of a command two are killed and two interrupted in processes of their own (one of
these within its first tenth of a second), two are killed and two interrupted in forks of a process
that has loaded everything (one of each at a moment in which a file is written). What is checked: an
interrupt ends with status 130, one line and nothing printed; a file that stands under its own name
is byte for byte that of an uninterrupted run; nothing else is left, but a half-written file of a
killed process under another name; and the same command, run again there, ends with the same bytes,
and with nothing else in the folder. It is run again after every trial that left something, settings
kept for the next command among it, and after one of five of the others.
"""

import argparse
import json
import os
import random
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable
from dataclasses import asdict, dataclass, field
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "tests"))

import forked
from forked import Ended, Limits, beside, ended, load_everything, started, surroundings, waited
from hostile_input import in_the_right_surroundings, put_between, rows_in

from vlm import disk

COMMANDS = {
    "motion": ("motion", "tideline", "--scenario", "side gust", "--duration", "0.2", "--no-error",
               "-o", "out.nc", "--scene", "out.html", *forked.GRID),
    "export": ("export", "tideline", "--trims", "14:0", "--fold-range=-2:2", "-o", "out.nc",
               *forked.GRID),
    "compare": ("compare", "tideline", "--fold", "0", "--fold", "10", "--no-power", "--json",
                "--plot", "out.svg", *forked.GRID),
}  # fmt: skip
LIMITS = Limits(seconds=120, clock=600.0, memory_mb=2500)
EARLY = 0.1
MARKS = ("<!-- stopped commands: begin -->", "<!-- stopped commands: end -->")
PLACES = ("process", "process", "fork", "fork", "early", "process", "writing", "writing")


@dataclass(frozen=True)
class Whole:
    """What an uninterrupted run gives, the clock's seconds that it takes, and what it keeps."""

    files: dict[str, bytes]
    out: str
    seconds: float
    kept: int


@dataclass(frozen=True)
class Trial:
    """One stop: how it was sent, when, how the command ended, and what was not as promised."""

    command: str
    number: int
    sent: str
    place: str
    delay: float | None
    status: int
    left: list[str] = field(default_factory=list)
    again: bool = False
    fault: str | None = None


def whole_run(words: tuple[str, ...], folder: Path) -> Whole:
    """Run a command to its end."""
    folder.mkdir(parents=True)
    began = time.monotonic()
    how = ended(words, folder, LIMITS)
    assert how.status == 0, how
    took, kept = time.monotonic() - began, len(list(beside(folder, "kept").glob("*.npz")))
    return Whole(files_in(folder), how.out, took, kept)


def files_in(folder: Path) -> dict[str, bytes]:
    """Content of all files of a folder by name."""
    return {str(p.relative_to(folder)): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


def killed_at_write(sent: signal.Signals, count: int) -> Callable[[], None]:
    """Have this process stop itself in the midst of the count-th file that it writes."""

    def prepare() -> None:
        calls, fill = iter(range(count)), disk._fill

        def stopping(partial: Path, target: Path, content: bytes, *, durable: bool) -> None:
            if next(calls, None) is None:
                partial.write_bytes(content[: len(content) // 2])
                os.kill(os.getpid(), sent)
                partial.unlink()
            fill(partial, target, content, durable=durable)

        disk._fill = stopping

    return prepare


def stopped(words: tuple[str, ...], folder: Path, whole: Whole, number: int) -> tuple[Trial, Ended]:
    """Start a command and stop it, by the number of the trial."""
    chance = random.Random(f"stopped {words[0]} {number}")
    sent = signal.SIGKILL if number % 2 else signal.SIGINT
    place = PLACES[number % len(PLACES)]
    folder.mkdir(parents=True)
    delay: float | None = None
    if place == "writing":
        first = killed_at_write(sent, chance.randrange(len(whole.files) + whole.kept))
        how = ended(words, folder, LIMITS, first)
    elif place == "fork":
        delay = chance.uniform(0.0, whole.seconds)
        process = started(words, folder, LIMITS)
        time.sleep(delay)
        os.kill(process, sent)
        how = waited(process, folder)
    else:
        delay = chance.uniform(0.0, EARLY if place == "early" else whole.seconds + 1.5)
        how = _own_process(words, folder, sent, delay)
    return Trial(words[0], number, sent.name, place, delay, how.status), how


def _own_process(words: tuple[str, ...], folder: Path, sent: signal.Signals, delay: float) -> Ended:
    beside(folder, "tmp").mkdir(exist_ok=True)
    with subprocess.Popen(
        [sys.executable, "-P", "-W", "error", "-m", "vlm", *words], cwd=folder, text=True,
        env=os.environ | surroundings(folder), start_new_session=True,
        stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.PIPE,
    ) as process:  # fmt: skip
        time.sleep(delay)
        os.killpg(process.pid, sent)
        out, err = process.communicate(timeout=600)
    return Ended(process.returncode, out, err, 0.0, 0)


def broken(trial: Trial, how: Ended, folder: Path, whole: Whole) -> str | None:
    """What a stop broke of what is promised."""
    there = files_in(folder)
    for name, content in there.items():
        if name in whole.files and content != whole.files[name]:
            return f"{name} stands there and is not whole"
        if name not in whole.files and (trial.sent == "SIGINT" or not name.endswith(".partial")):
            return f"left behind: {name}"
    if trial.sent == "SIGKILL":
        return None if how.status in (0, -signal.SIGKILL) else f"status {how.status}: {how.err}"
    temporary = sorted(path.name for path in beside(folder, "tmp").iterdir())
    temporary += sorted(path.name for path in beside(folder, "kept").glob(".*"))
    if temporary:
        return f"left among temporary or kept files: {temporary}"
    if how.status == 0:
        return None
    if trial.place in ("early", "process") and before_foldspan(how):
        return None
    if (how.status, how.out) != (130, ""):
        return f"status {how.status}, printed {how.out[:200]!r}; {how.err[-800:]}"
    if how.err.rstrip("\n").split("\n")[-1] != "foldspan: interrupted" or "Traceback" in how.err:
        return f"said {how.err[-1500:]!r}"
    return None


def before_foldspan(how: Ended) -> bool:
    """Whether Python itself was interrupted while it started, before it read a line of foldspan."""
    return how.status in (1, 130, -signal.SIGINT) and "vlm/" not in how.err


def run_trial(name: str, number: int, root: Path, whole: Whole) -> Trial:
    """One trial, and the same command again where the stop left something, or now and then."""
    folder = root / f"{name} {number}" / "work"
    trial, how = stopped(COMMANDS[name], folder, whole, number)
    fault = broken(trial, how, folder, whole)
    left = sorted(files_in(folder))
    held = beside(folder, "kept").exists() and any(beside(folder, "kept").iterdir())
    again = held or bool(left and set(left) != set(whole.files)) or not number % 5
    if again:
        second = ended(COMMANDS[name], folder, LIMITS)
        half = [path.name for path in beside(folder, "kept").glob(".*")]
        if second.status or second.out != whole.out or files_in(folder) != whole.files or half:
            fault = fault or (
                f"again: status {second.status}, files {sorted(files_in(folder))}, "
                f"same words {second.out == whole.out}, kept {half}; {second.err[-500:]}"
            )
    shutil.rmtree(folder.parent, ignore_errors=True)
    return Trial(**(asdict(trial) | {"left": left, "again": again, "fault": fault}))


def run_all(record: Path, names: list[str], trials: int, minutes: float) -> None:
    """Trials of the commands in turn, a line in the record after each, until the time is up."""
    # A shell starts what runs behind it with interrupts ignored, and commands inherit that.
    signal.signal(signal.SIGINT, signal.default_int_handler)
    load_everything()
    end = time.monotonic() + 60.0 * minutes
    done = {(row["command"], row["number"]) for row in rows_in(record)}
    with tempfile.TemporaryDirectory() as made, record.open("a", encoding="utf-8") as lines:
        root = Path(made)
        wholes = {name: whole_run(COMMANDS[name], root / name / "work") for name in names}
        for number in range(trials):
            for name in names:
                if time.monotonic() > end:
                    return
                if (name, number) not in done:
                    trial = run_trial(name, number, root, wholes[name])
                    lines.write(json.dumps(asdict(trial)) + "\n")
                    lines.flush()


def table(record: Path) -> str:
    """How the trials ended, as a table of Markdown."""
    lines = [
        "| command | sent | where | trials | stopped | through before | left half-written"
        " | run again | broken promise |",
        "| --- | --- | --- | ---: | ---: | ---: | ---: | ---: | ---: |",
    ]
    rows = rows_in(record)
    for command, sent, place in sorted({(r["command"], r["sent"], r["place"]) for r in rows}):
        mine = [r for r in rows if (r["command"], r["sent"], r["place"]) == (command, sent, place)]
        ends = Counter(row["status"] for row in mine)
        half = sum(any(name.endswith(".partial") for name in row["left"]) for row in mine)
        lines.append(
            f"| {command} | {sent} | {place} | {len(mine)} | {len(mine) - ends[0]} | {ends[0]}"
            f" | {half} | {sum(row['again'] for row in mine)}"
            f" | {sum(row['fault'] is not None for row in mine)} |"
        )
    return "\n".join(lines)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--record", type=Path, required=True)
    parser.add_argument("--trials", type=int, default=200)
    parser.add_argument("--minutes", type=float, default=1e9)
    parser.add_argument("--command", choices=COMMANDS, action="append")
    parser.add_argument("--table", action="store_true")
    parser.add_argument("--page", type=Path, help="that has the table between its marks")
    parser.add_argument("--day", default="")
    asked = parser.parse_args()
    if not asked.table:
        run_all(asked.record, asked.command or list(COMMANDS), asked.trials, asked.minutes)
    print(table(asked.record))
    if asked.page is not None:
        rows = rows_in(asked.record)
        faults = sum(row["fault"] is not None for row in rows)
        said = f"Until {asked.day} {len(rows)} trials: {faults or 'none'} broke a promise."
        put_between(asked.page, MARKS, f"{said}\n\n{table(asked.record)}")
    for row in rows_in(asked.record):
        if row["fault"] is not None:
            print(f"\n{row['command']} {row['number']}: {row['fault']}")


if __name__ == "__main__":
    in_the_right_surroundings()
    main()
