"""What is kept on disk is read as it was written, or not at all."""

import multiprocessing
import os
import pickle
import signal
import subprocess
import sys
import time
import zipfile
from pathlib import Path

import numpy as np
import pytest

from vlm.archive import packed_arrays
from vlm.chart.kept_arrays import LIMIT, LIMIT_MB, OFF, PLACE, KeptArrays, nothing_kept, users_cache
from vlm.errors import InputRefused

KEY, OTHER = "a" * 64, "b" * 64
TABLE = np.linspace(-1.0, 3.0, 600).reshape(20, 30)
SHAPES = {"table": (20, 30)}
LARGE = 10**9


def folder_of(tmp_path: Path, limit: int = LARGE) -> KeptArrays:
    return KeptArrays(tmp_path / "kept", limit)


def file_of(kept: KeptArrays, key: str = KEY) -> Path:
    return kept.folder / f"{key}.npz"


def test_what_was_kept_is_read_bit_by_bit(tmp_path: Path) -> None:
    kept = folder_of(tmp_path)
    assert kept.load(KEY, SHAPES) is None
    kept.keep(KEY, {"table": TABLE}, {"Cl": 1e-5})
    found = kept.load(KEY, SHAPES)
    assert found is not None
    assert found[0]["table"].tobytes() == TABLE.tobytes()
    assert found[1] == {"Cl": 1e-5}
    assert kept.load(OTHER, SHAPES) is None


def test_any_changed_byte_is_noticed(tmp_path: Path) -> None:
    kept = folder_of(tmp_path)
    kept.keep(KEY, {"table": TABLE})
    path = file_of(kept)
    whole = path.read_bytes()
    first = whole.index(TABLE.tobytes())
    for place in np.random.default_rng(3).integers(first, first + TABLE.nbytes, 40):
        damaged = bytearray(whole)
        damaged[place] ^= 1 << int(place) % 8
        path.write_bytes(damaged)
        assert kept.load(KEY, SHAPES) is None, place
    path.write_bytes(whole)
    assert kept.load(KEY, SHAPES) is not None


def test_a_file_cut_off_anywhere_is_not_read(tmp_path: Path) -> None:
    kept = folder_of(tmp_path)
    kept.keep(KEY, {"table": TABLE})
    whole = file_of(kept).read_bytes()
    for length in range(0, len(whole), 97):
        file_of(kept).write_bytes(whole[:length])
        assert kept.load(KEY, SHAPES) is None, length


class _Ran:
    def __reduce__(self) -> tuple[object, tuple[str]]:
        return os.mkdir, (os.environ["KEPT_TEST_TRAP"],)


def _pickled(path: Path) -> None:
    """A NumPy archive of an object whose reading would make a folder."""
    data = np.empty(1, dtype=object)
    data[0] = _Ran()
    with zipfile.ZipFile(path, "w") as archive, archive.open("table.npy", "w") as member:
        np.lib.format.write_array(member, data, allow_pickle=True)


FOREIGN = {
    "another key's": packed_arrays({"table": TABLE}, None, OTHER),
    "no archive": b"# a note of somebody\n",
    "another shape": packed_arrays({"table": TABLE.T.copy()}, None, KEY),
    "one array more": packed_arrays({"table": TABLE, "more": TABLE}, None, KEY),
    "other numbers": packed_arrays({"table": TABLE.astype(np.float32)}, None, KEY),
    "not finite": packed_arrays({"table": np.where(TABLE > 2.9, np.nan, TABLE)}, None, KEY),
}


@pytest.mark.parametrize("name", FOREIGN)
def test_a_foreign_file_is_not_read_but_replaced(name: str, tmp_path: Path) -> None:
    kept = folder_of(tmp_path)
    kept.folder.mkdir()
    file_of(kept).write_bytes(FOREIGN[name])
    assert kept.load(KEY, SHAPES) is None
    kept.keep(KEY, {"table": TABLE})
    assert kept.load(KEY, SHAPES) is not None


def test_no_code_in_a_file_is_run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    trap = tmp_path / "trap"
    monkeypatch.setenv("KEPT_TEST_TRAP", str(trap))
    kept = folder_of(tmp_path)
    kept.folder.mkdir()
    _pickled(file_of(kept))
    assert kept.load(KEY, SHAPES) is None
    file_of(kept).write_bytes(pickle.dumps(_Ran()))
    assert kept.load(KEY, SHAPES) is None
    assert not trap.exists()


def test_pipes_folders_and_links_neither_hang_nor_lead_away(tmp_path: Path) -> None:
    kept = folder_of(tmp_path)
    kept.folder.mkdir()
    os.mkfifo(file_of(kept))
    assert kept.load(KEY, SHAPES) is None
    kept.keep(KEY, {"table": TABLE})  # a pipe is no file that may be replaced
    file_of(kept, OTHER).mkdir()
    kept.keep(OTHER, {"table": TABLE})
    assert kept.load(OTHER, SHAPES) is None
    mine = tmp_path / "mine.txt"
    mine.write_text("keep this")
    link = file_of(kept, "c" * 64)
    link.symlink_to(mine)
    kept.keep("c" * 64, {"table": TABLE})
    assert mine.read_text() == "keep this"
    assert kept.load("c" * 64, SHAPES) is not None


def test_what_was_used_longest_ago_goes_first(tmp_path: Path) -> None:
    kept = folder_of(tmp_path)
    keys = [letter * 64 for letter in "abcd"]
    for age, key in enumerate(reversed(keys[:3])):
        kept.keep(key, {"table": TABLE})
        os.utime(file_of(kept, key), (1e9 - age, 1e9 - age))
    size = file_of(kept, keys[0]).stat().st_size
    assert kept.load(keys[0], SHAPES) is not None  # the oldest, but just used
    KeptArrays(kept.folder, int(2.3 * size)).keep(keys[3], {"table": TABLE})
    assert [file_of(kept, key).exists() for key in keys] == [True, False, False, True]
    assert sum(path.stat().st_size for path in kept.folder.glob("*.npz")) <= 2 * size
    KeptArrays(kept.folder, size - 1).keep(keys[1], {"table": TABLE})  # never fits
    assert not file_of(kept, keys[1]).exists()


def test_a_full_folder_is_looked_at_seldom(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A tenth of 100 files goes when the limit is passed: one writer in ten looks at them all."""
    folder_of(tmp_path).keep("0" * 64, {"table": TABLE})
    size = file_of(folder_of(tmp_path), "0" * 64).stat().st_size
    looks: list[object] = []
    kept = folder_of(tmp_path, 100 * size)
    listed = os.scandir
    monkeypatch.setattr(os, "scandir", lambda path: [looks.append(path), listed(path)][1])
    for number in range(1, 200):
        kept.keep(f"{number:064d}", {"table": TABLE})
        os.utime(file_of(kept, f"{number:064d}"), (1e9 + number,) * 2)
    assert 8 <= len(looks) <= 12
    assert 89 <= sum(1 for _ in kept.folder.glob("*.npz")) <= 100
    assert file_of(kept, f"{199:064d}").exists()


@pytest.mark.parametrize("left", [None, "", "12", "many bytes\n", "1e3 bytes\n"])
def test_a_size_that_nobody_left_whole_is_counted_again(left: str | None, tmp_path: Path) -> None:
    """The folder's size stands in a file; a writer that is killed leaves none, or half of it."""
    kept = folder_of(tmp_path)
    for letter in "abc":
        kept.keep(letter * 64, {"table": TABLE})
    size = file_of(kept, "c" * 64).stat().st_size
    total = kept.folder / "total"
    assert total.read_text() == f"{3 * size} bytes\n"
    total.unlink()
    if left is not None:
        total.write_text(left)
    KeptArrays(kept.folder, int(2.3 * size)).keep("d" * 64, {"table": TABLE})
    assert len(list(kept.folder.glob("*.npz"))) == 2
    assert total.read_text() == f"{2 * size} bytes\n"


def test_files_are_looked_at_only_where_their_size_asks_for_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    kept = folder_of(tmp_path)
    kept.keep("a" * 64, {"table": TABLE})
    looked: list[str] = []
    look = os.scandir
    monkeypatch.setattr(os, "scandir", lambda path: (looked.append(path), look(path))[1])
    for letter in "bcde":
        kept.keep(letter * 64, {"table": TABLE})
    assert looked == []
    size = file_of(kept, "b" * 64).stat().st_size
    KeptArrays(kept.folder, int(5.6 * size)).keep("f" * 64, {"table": TABLE})
    assert len(looked) == 1
    assert len(list(kept.folder.glob("*.npz"))) == 5


def test_a_folder_that_cannot_be_written_is_done_without(tmp_path: Path) -> None:
    """Root may write into any folder, so a file stands where the folder would be."""
    (tmp_path / "kept").write_text("")
    kept = folder_of(tmp_path)
    kept.keep(KEY, {"table": TABLE})
    assert kept.load(KEY, SHAPES) is None


def test_a_lock_that_another_process_holds_is_not_waited_for_forever(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from filelock import FileLock

    monkeypatch.setattr("vlm.chart.kept_arrays.PATIENCE_S", 0.05)
    kept = folder_of(tmp_path)
    kept.folder.mkdir()
    with FileLock(kept.folder / "lock"):
        kept.keep(KEY, {"table": TABLE})
    assert kept.load(KEY, SHAPES) is None


def _keep_many(folder: str, seed: int) -> None:
    kept = KeptArrays(Path(folder), 40_000)  # so small that files are removed all the time
    for turn in range(60):
        key = "abcdef"[turn % 6] * 64
        kept.keep(key, {"table": TABLE + ord(key[0])}, seed)
        found = kept.load(key, SHAPES)
        assert found is None or found[0]["table"][0, 0] == TABLE[0, 0] + ord(key[0])


def test_several_commands_at_once_leave_whole_files(tmp_path: Path) -> None:
    context = multiprocessing.get_context("fork")
    others = [context.Process(target=_keep_many, args=(str(tmp_path), i)) for i in range(3)]
    for other in others:
        other.start()
    for other in others:
        other.join()
    assert [other.exitcode for other in others] == [0, 0, 0]
    left = list(tmp_path.glob("*.npz"))
    assert left
    for path in left:
        assert KeptArrays(tmp_path, LARGE).load(path.stem, SHAPES) is not None
    assert sum(path.stat().st_size for path in left) <= 40_000
    assert not list(tmp_path.glob("*.partial"))


WRITER = """
import sys
from pathlib import Path
import numpy as np
from vlm.chart.kept_arrays import KeptArrays
kept = KeptArrays(Path(sys.argv[1]), 10**9)
print("ready", flush=True)
for turn in range(10**6):
    kept.keep("a" * 64, {"table": np.full((200, 3000), float(turn))})
"""


def test_a_command_killed_while_it_writes_leaves_nothing_half_done(tmp_path: Path) -> None:
    kept, shapes = KeptArrays(tmp_path, LARGE), {"table": (200, 3000)}
    rng = np.random.default_rng(5)
    for _ in range(4):
        writer = subprocess.Popen(
            [sys.executable, "-c", WRITER, str(tmp_path)], stdout=subprocess.PIPE, text=True
        )
        assert writer.stdout is not None
        assert writer.stdout.readline() == "ready\n"
        time.sleep(float(rng.uniform(0.02, 0.06)))
        writer.send_signal(signal.SIGKILL)
        writer.wait()
        writer.stdout.close()
        if file_of(kept).exists():
            found = kept.load(KEY, shapes)
            assert found is not None
            assert np.ptp(found[0]["table"]) == 0.0
    (tmp_path / f".{KEY}.npz.999999999.partial").write_bytes(b"half")
    (tmp_path / "total").unlink(missing_ok=True)  # a writer takes it before it writes
    kept.keep(OTHER, {"table": TABLE})  # the next one finds no lock in its way, and tidies up
    assert kept.load(OTHER, SHAPES) is not None
    assert not list(tmp_path.glob(".*.partial"))


def test_the_environment_says_whether_where_and_how_much(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name in (OFF, PLACE, LIMIT):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    found = users_cache()
    assert found is not None
    assert found.limit == LIMIT_MB * 1e6
    if sys.platform == "linux":
        assert found.folder == tmp_path / "foldspan" / "charts"
    monkeypatch.setenv(PLACE, str(tmp_path / "mine"))
    monkeypatch.setenv(LIMIT, "2.5")
    assert users_cache() == KeptArrays(tmp_path / "mine", 2_500_000)
    with nothing_kept():
        assert users_cache() is None
    assert users_cache() is not None
    monkeypatch.setenv(OFF, "1")
    assert users_cache() is None
    monkeypatch.setenv(OFF, "0")
    monkeypatch.setenv(LIMIT, "0")
    assert users_cache() is None
    for wrong in ("much", "-1", "inf", "nan"):
        monkeypatch.setenv(LIMIT, wrong)
        with pytest.raises(InputRefused, match=f"FOLDSPAN_CACHE_LIMIT_MB = {wrong}; a number"):
            users_cache()


@pytest.mark.parametrize(("spare", "kept_there"), [(0, True), (-1, False)])
def test_what_fills_the_folder_to_its_limit_is_kept(
    spare: int, kept_there: bool, tmp_path: Path
) -> None:
    size = len(packed_arrays({"table": TABLE}, None, KEY))
    kept = folder_of(tmp_path, size + spare)
    kept.keep(KEY, {"table": TABLE})
    assert (kept.load(KEY, SHAPES) is not None) is kept_there
    if kept_there:  # the next one takes its place
        kept.keep(OTHER, {"table": TABLE})
        assert [kept.load(key, SHAPES) is not None for key in (KEY, OTHER)].count(True) == 1
