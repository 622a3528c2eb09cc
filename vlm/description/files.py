"""Reading text files, and finding geometry files by name."""

import os
from pathlib import Path

from vlm.disk import input_file
from vlm.errors import InputRefused, nearest_name

LARGEST_BYTES = 20_000_000
GEOMETRIES = "geometries"


def read_text(path: Path) -> str:
    """Text of a UTF-8 file, without a byte-order mark.

    Raises
    ------
    InputRefused : missing (with the nearest name beside it), not readable, a folder, too large,
        or not UTF-8
    """
    name = cut_path(path)
    if os.path.isdir(path):
        raise InputRefused(f"{name}: this is a folder, not a file")
    try:
        with input_file(path) as file:
            data = file.read(LARGEST_BYTES + 1)
    except FileNotFoundError:
        raise InputRefused(f"{name}: there is no such file{nearest_beside(path)}") from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise InputRefused(f"{name}: the file can't be read: {reason}") from None
    if len(data) > LARGEST_BYTES:
        raise InputRefused(f"{name}: the file is larger than {LARGEST_BYTES // 10**6} MB")
    return decoded(data, name)


def cut_path(path: str | Path) -> str:
    """A path for a message, in one line; a very long one loses its middle."""
    text = "".join(c if c.isprintable() else "?" for c in str(path))
    return text if len(text) <= 300 else f"{text[:140]} ... {text[-140:]}"


def decoded(data: bytes, name: str) -> str:
    """UTF-8 text of some bytes, without a byte-order mark.

    Raises
    ------
    InputRefused : the bytes are not UTF-8, with the line where that shows
    """
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise InputRefused(f"{name}: the file is UTF-16; save it as UTF-8")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise InputRefused(
            f"{name}: line {line}: byte 0x{data[error.start]:02x} is not UTF-8; save the file as"
            " UTF-8"
        ) from None


def nearest_beside(path: Path) -> str:
    """The nearest name beside a missing file, as the end of a message."""
    if not os.path.isdir(path.parent):
        return f", nor a folder {cut_path(path.parent)}"
    try:
        names = sorted(entry.name for entry in path.parent.iterdir())
    except OSError:
        return ""
    near = nearest_name(path.name, [name for name in names if name != path.name])
    return f"; did you mean {path.with_name(near)}?" if near else ""


def shipped_folders() -> tuple[Path, ...]:
    """Folders searched for a craft given by name: the current one's, then the shipped one."""
    package = Path(__file__).resolve().parents[1]
    # Installed, the shipped craft lie in the package; in a work tree, beside it.
    installed = package / GEOMETRIES
    shipped = installed if installed.is_dir() else package.parent / GEOMETRIES
    return tuple(folder for folder in (Path(GEOMETRIES), shipped) if folder.is_dir())


def found_geometry(path_or_name: str | Path) -> Path:
    """The geometry file that a path, or the name of one in geometries/, stands for.

    A file ending in .toml comes before a name in geometries/, and that before any other file.

    Raises
    ------
    InputRefused : there is none, with the nearest name
    """
    path, text = Path(path_or_name), str(path_or_name)
    if path.suffix == ".toml" and os.path.isfile(path):
        return path
    if text and path.name == text:
        file_name = text if path.suffix == ".toml" else f"{text}.toml"
        for folder in shipped_folders():
            if os.path.isfile(folder / file_name):
                return folder / file_name
    if os.path.exists(path) and not os.path.isdir(path):
        return path
    raise InputRefused(f"{cut_path(text)}: {_not_found(text, path)}")


def _not_found(text: str, path: Path) -> str:
    """Why a name leads nowhere, with the nearest file beside it or shipped."""
    if text and os.path.isdir(path):
        return "this is a folder, not a geometry file"
    known = sorted({entry.stem for folder in shipped_folders() for entry in folder.glob("*.toml")})
    near = nearest_name(path.stem, known) if path.name == text else None
    if near:
        return f"there is no such geometry file; did you mean {near}?"
    names = ", ".join(known) or "none"
    return f"there is no such geometry file{nearest_beside(path)} (shipped: {names})"


def found_log(path: Path) -> Path:
    """A flight log itself, or the shipped one of that name.

    Raises
    ------
    InputRefused : there is none, with the nearest name
    """
    if path.exists():
        return path
    folders, bare = [folder / "logs" for folder in shipped_folders()], path.name == str(path)
    file_name = f"{path.name.removesuffix('.csv')}.csv"
    for folder in folders if bare else ():
        if (folder / file_name).is_file():
            return folder / file_name
    known = sorted({entry.name for folder in folders for entry in folder.glob("*.csv")})
    near = nearest_name(path.name, known) if bare else None
    hint = f"; did you mean {near}?" if near else nearest_beside(path)
    if not hint and bare and known:
        hint = f" (shipped: {', '.join(known)})"
    raise InputRefused(f"{cut_path(path)}: there is no such flight log{hint}")
