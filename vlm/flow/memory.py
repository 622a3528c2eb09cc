"""Memory of a solve, estimated before anything is allocated."""

import os
from pathlib import Path

import numpy as np

from vlm.errors import ComputationFailed

BYTES = 8
MATRIX_SHARE = 1.15
"""Peak memory of a solve over that of its matrix, measured by benchmarks/bench_core.py."""
KEPT_FREE = 0.1


def available_memory() -> int:
    """Memory this process may still take without swapping [bytes].

    The kernel's own estimate where it gives one (and the limit of the process's control group,
    if that is lower), else half of the physical memory.
    """
    limits = [_from_meminfo(), _from_control_group()]
    known = [limit for limit in limits if limit is not None]
    if known:
        return min(known)
    return os.sysconf("SC_PAGE_SIZE") * os.sysconf("SC_PHYS_PAGES") // 2


def _from_meminfo() -> int | None:
    try:
        lines = Path("/proc/meminfo").read_text().splitlines()
    except OSError:
        return None
    for line in lines:
        if line.startswith("MemAvailable:"):
            return int(line.split()[1]) * 1024
    return None


def _from_control_group() -> int | None:
    folder = Path("/sys/fs/cgroup")
    try:
        limit = (folder / "memory.max").read_text().strip()
        used = int((folder / "memory.current").read_text())
        return None if limit == "max" else max(0, int(limit) - used)
    except (OSError, ValueError):
        return None


def solve_bytes(panels: int) -> int:
    """Peak memory of one solve of a lattice [bytes]."""
    return int(MATRIX_SHARE * BYTES * panels**2)


def largest_lattice(memory: int) -> int:
    """Panels of the largest lattice that a solve fits into some memory with."""
    return int(np.sqrt(memory / (MATRIX_SHARE * BYTES)))


def refuse_too_large(panels: int, memory: int | None = None) -> None:
    """Refuse a lattice whose solve would not fit into memory.

    Parameters
    ----------
    memory : what may be taken; by default nine tenths of what is available [bytes]

    Raises
    ------
    ComputationFailed : names what is needed, what is there, and the largest lattice that fits
    """
    there = memory if memory is not None else int((1.0 - KEPT_FREE) * available_memory())
    needed = solve_bytes(panels)
    if needed > there:
        raise ComputationFailed(
            f"a lattice of {panels} panels needs {needed / 2**30:.3g} GiB,"
            f" {there / 2**30:.3g} GiB may be taken; at most {largest_lattice(there)} panels fit:"
            " take fewer rows or strips"
        )
