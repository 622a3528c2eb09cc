"""What foldspan runs on: printed by ``foldspan --version`` and kept with every dataset."""

import os
import platform
import sys
from importlib import metadata

import vlm

LIBRARIES = ("numpy", "scipy", "numba", "xarray", "h5netcdf", "pydantic", "click", "matplotlib")
OPTIONAL_LIBRARIES = ("pyvista", "distributed")
THREAD_SETTINGS = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS")
CACHE_SETTINGS = ("FOLDSPAN_NO_CACHE", "FOLDSPAN_CACHE_DIR", "FOLDSPAN_CACHE_LIMIT_MB")
NUMBA_SETTINGS = ("NUMBA_NUM_THREADS", "NUMBA_CACHE_DIR", "NUMBA_DISABLE_JIT")


def library_version(name: str) -> str | None:
    """The installed version of a distribution, read without importing it; None if absent."""
    try:
        return metadata.version(name)
    except metadata.PackageNotFoundError:
        return None


def environment_report() -> str:
    """The version of foldspan, of Python and of the libraries, the machine and its threads."""
    lines = [
        f"foldspan {vlm.__version__}",
        f"Python {platform.python_version()} ({platform.python_implementation()}), "
        f"{platform.system()} {platform.release()} {platform.machine()}, "
        f"{os.cpu_count()} processors, {sys.byteorder}-endian",
    ]
    lines += [f"{name} {library_version(name) or 'is missing'}" for name in LIBRARIES]
    lines += [
        f"{name} {library_version(name) or 'is not installed (optional)'}"
        for name in OPTIONAL_LIBRARIES
    ]
    settings = [
        name for name in THREAD_SETTINGS + NUMBA_SETTINGS + CACHE_SETTINGS if name in os.environ
    ]
    lines += [f"{name}={os.environ[name]}" for name in settings]
    return "\n".join(lines)
