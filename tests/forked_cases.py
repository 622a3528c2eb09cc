"""Hostile cases in forks: run, and held against all that is promised."""

from contextlib import ExitStack
from pathlib import Path

from forked import Ended, Limits, beside, ended
from mutations import HostileCase

_HANDS = ExitStack()
LIMITS = Limits(seconds=120, clock=3600.0, memory_mb=2500)


def ended_case(case: HostileCase, folder: Path) -> Ended:
    """Run a case in a folder of its own."""
    folder.mkdir()
    for name, content in case.files.items():
        (folder / name).write_bytes(content)
    return ended(case.words, folder, LIMITS, _hands_on_explorer)


def _hands_on_explorer() -> None:
    """In the child, for the rest of its life."""
    from grammar import hands_on_explorer

    _HANDS.enter_context(hands_on_explorer())


def broken_promise(case: HostileCase, folder: Path, how: Ended) -> str | None:
    """What a case has broken of what is promised; None where it kept all."""
    from test_fuzz import checked_ending, checked_folder

    if how.status < 0:
        ended_by = f"ended by signal {-how.status} after {how.seconds:g} s of the processor"
        return f"{ended_by}\n{how.err[-1500:]}"
    try:
        checked_ending(case.words, how.status, how.out, how.err)
        checked_folder(folder, case, how.status)
        left = [str(path) for path in beside(folder, "tmp").iterdir()]
        left += [str(path) for path in beside(folder, "kept").glob(".*")]
        assert not left, f"left among temporary or kept files: {left}"
    except AssertionError as failed:
        return str(failed)
    return None
