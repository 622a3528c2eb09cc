"""What memory may be taken, from made-up accounts of the system.

/proc/meminfo tells kB of 1024 bytes (proc(5)); memory.max and memory.current of a control group
bytes, or "max" for none (the kernel's documentation of cgroup v2).
"""

import os
from pathlib import Path

import pytest

from vlm.flow import memory

MEMINFO = "MemTotal:  9000000 kB\nMemFree: 1000 kB\nMemAvailable:  3000000 kB\nBuffers: 1 kB\n"


def told(monkeypatch: pytest.MonkeyPatch, accounts: dict[str, str]) -> int:
    """What is available where these files alone are there; 1000 pages of 4096 bytes in all."""

    def read(path: Path, *_: object, **__: object) -> str:
        if str(path) not in accounts:
            raise FileNotFoundError(str(path))
        return accounts[str(path)]

    monkeypatch.setattr(Path, "read_text", read)
    pages = {"SC_PAGE_SIZE": 4096, "SC_PHYS_PAGES": 1000}
    monkeypatch.setattr(os, "sysconf", pages.__getitem__)
    return memory.available_memory()


@pytest.mark.parametrize(
    ("meminfo", "most", "used", "bytes_there"),
    [
        (MEMINFO, None, None, 3_000_000 * 1024),
        (MEMINFO, "max\n", "5\n", 3_000_000 * 1024),
        (MEMINFO, "2000000000\n", "500000000\n", 1_500_000_000),
        (MEMINFO, "9000000000\n", "500000000\n", 3_000_000 * 1024),
        (MEMINFO, "100\n", "500\n", 0),
        (MEMINFO, "words\n", "500\n", 3_000_000 * 1024),
        (None, "2000\n", "500\n", 1500),
        ("MemTotal: 9 kB\n", None, None, 2_048_000),
        (None, None, None, 2_048_000),
    ],
)
def test_memory_that_may_be_taken(
    meminfo: str | None, most: str | None, used: str | None, bytes_there: int,
    monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    """The lower of both accounts; half of the machine's where there is none."""
    accounts = {"/proc/meminfo": meminfo, "/sys/fs/cgroup/memory.max": most,
                "/sys/fs/cgroup/memory.current": used}  # fmt: skip
    known = {path: text for path, text in accounts.items() if text is not None}
    assert told(monkeypatch, known) == bytes_there
