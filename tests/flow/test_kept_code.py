"""Compiled code on disk: never of another source, and done without where it cannot be had.

No source but the promise itself. Small functions stand in for the kernel's.
"""

import subprocess
import sys
from pathlib import Path

import pytest

from vlm.flow import compiled

USED = """
import sys
from pathlib import Path
from vlm.flow import compiled
compiled.HERE = Path.cwd()
sys.path.insert(0, "")
from kernel_two import thrice
print(thrice(1.0), sum(thrice.stats.cache_hits.values()))
print(compiled.kept_folder())
"""


@pytest.fixture
def source(tmp_path: Path) -> Path:
    """Two files of functions, one of which calls the other's."""
    (tmp_path / "kernel_one.py").write_text(
        "from vlm.flow.compiled import compiled\n"
        "@compiled(inline='always')\ndef twice(x):\n    return 2.0 * x\n"
    )
    (tmp_path / "kernel_two.py").write_text(
        "from vlm.flow.compiled import compiled\nfrom kernel_one import twice\n"
        "@compiled()\ndef thrice(x):\n    return x + twice(x)\n"
    )
    return tmp_path


def used(source: Path, environment, **more: str) -> tuple[str, str, str]:
    """What the function gives and whether it was kept, the folder, and what was said."""
    run = subprocess.run(
        [sys.executable, "-W", "error", "-c", USED], cwd=source, env={**environment, **more},
        capture_output=True, text=True,
    )  # fmt: skip
    assert run.returncode == 0, run.stderr
    result, folder = run.stdout.splitlines()
    return result, folder, run.stderr


def test_code_is_kept_until_any_of_the_files_changes(source: Path, command_environment) -> None:
    """numba by itself would give 3 again: it looks at the file of the function alone."""
    assert used(source, command_environment)[0] == "3.0 0"
    result, folder, _ = used(source, command_environment)
    assert result == "3.0 1"
    one = source / "kernel_one.py"
    one.write_text(one.read_text().replace("2.0", "4.0"))
    result, other, _ = used(source, command_environment)
    assert result == "5.0 0"
    assert [str(path) for path in Path(folder).parent.glob("foldspan-*")] == [other]


def test_damaged_code_is_compiled_again(source: Path, command_environment) -> None:
    folder = Path(used(source, command_environment)[1])
    kept = [path for path in folder.rglob("*") if path.suffix in (".nbi", ".nbc")]
    assert len(kept) >= 2
    for path in kept:
        path.write_bytes(path.read_bytes()[: path.stat().st_size // 2])
    assert used(source, command_environment) == ("3.0 0", str(folder), "")
    assert used(source, command_environment)[0] == "3.0 1"


def test_without_a_folder_it_is_compiled_every_time(source: Path, command_environment) -> None:
    """Files stand where the folders would be; root could write into any folder."""
    (source / "__pycache__").write_text("")
    for name in ("cache", "home"):
        (source / name).write_text("")
    nowhere = {"NUMBA_CACHE_DIR": "cache", "HOME": str(source / "home"), "XDG_CACHE_HOME": ""}
    for _ in range(2):
        assert used(source, command_environment, PYTHONDONTWRITEBYTECODE="1", **nowhere) == (
            "3.0 0", "None", "",
        )  # fmt: skip
    (source / "home").unlink()
    result, folder, _ = used(source, command_environment, PYTHONDONTWRITEBYTECODE="1", **nowhere)
    assert (result, Path(folder).parent) == ("3.0 0", source / "home" / ".cache")


def test_the_digest_covers_every_file_of_the_kernel() -> None:
    """Each file of the room that has a compiled function."""
    has = {path.name for path in compiled.HERE.glob("*.py") if "@compiled(" in path.read_text()}
    assert has
    assert all(name.startswith("kernel") for name in has)
