"""Reading text files, and finding geometry files by name."""

from pathlib import Path

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
    try:
        if path.is_dir():
            raise InputRefused(f"{path}: this is a folder, not a file")
        if path.stat().st_size > LARGEST_BYTES:
            raise InputRefused(f"{path}: the file is larger than {LARGEST_BYTES // 10**6} MB")
        data = path.read_bytes()
    except FileNotFoundError:
        raise InputRefused(f"{path}: there is no such file{_near(path)}") from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise InputRefused(f"{path}: the file can't be read: {reason}") from None
    return decoded(data, str(path))


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


def _near(path: Path) -> str:
    try:
        names = [entry.name for entry in path.parent.iterdir()]
    except OSError:
        return f", nor a folder {path.parent}"
    near = nearest_name(path.name, names)
    return f"; did you mean {path.with_name(near)}?" if near else ""


def shipped_folders() -> tuple[Path, ...]:
    """Folders searched for a craft given by name: the current one's, then the shipped one."""
    package = Path(__file__).resolve().parents[1]
    folders = (Path(GEOMETRIES), package / GEOMETRIES, package.parent / GEOMETRIES)
    return tuple(folder for folder in folders if folder.is_dir())


def found_geometry(path_or_name: str | Path) -> Path:
    """The geometry file that a path, or the name of one in geometries/, stands for.

    Raises
    ------
    InputRefused : there is none, with the nearest name
    """
    path = Path(path_or_name)
    if path.suffix == ".toml" and path.exists():
        return path
    text = str(path_or_name)
    if "/" not in text and "\\" not in text:
        for folder in shipped_folders():
            candidate = folder / (text if path.suffix == ".toml" else f"{text}.toml")
            if candidate.is_file():
                return candidate
    if path.is_file():
        return path
    raise InputRefused(_not_found(text, path))


def _not_found(text: str, path: Path) -> str:
    """Message for a name that leads nowhere, with the nearest file beside it or shipped."""
    if path.is_dir():
        return f"{text}: this is a folder, not a geometry file"
    known = {entry.stem for folder in shipped_folders() for entry in folder.glob("*.toml")}
    shipped = nearest_name(Path(text).stem, sorted(known)) if "/" not in text else None
    if shipped:
        return f"{text}: there is no such geometry file; did you mean {shipped}?"
    names = ", ".join(sorted(known))
    return f"{text}: there is no such geometry file{_near(path)} (shipped: {names or 'none'})"
