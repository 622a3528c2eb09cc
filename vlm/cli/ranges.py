"""Options of the flight commands that need checking: ranges, targets, picture names."""

from collections.abc import Sequence
from pathlib import Path

from vlm.description.folds import FoldAngles
from vlm.errors import InputRefused

PICTURES = (".png", ".svg", ".pdf")
MOST = 1000
LARGEST = 1000.0  # airspeeds and folds; beyond any that is meant


def spaced(option: str, text: str, *, positive: bool = True) -> tuple[float, ...]:
    """Values of START:STOP:COUNT, or listed A,B,C.

    Raises
    ------
    InputRefused : not of that form, not finite, far too large, or not positive where it must be
    """
    parts = text.split(":")
    try:
        if len(parts) == 1:
            values = tuple(sorted({float(part) for part in text.split(",")}))
        else:
            start, stop, count = float(parts[0]), float(parts[1]), int(parts[2])
            if len(parts) != 3 or not 2 <= count <= MOST:
                raise ValueError(text)
            step = (stop - start) / (count - 1)
            values = tuple(start + i * step for i in range(count))
    except (ValueError, IndexError):
        raise InputRefused(
            f"{option} = {text}; write START:STOP:COUNT with a count of 2 to {MOST}, such as"
            " 8:20:7, or a list such as 8,13,20"
        ) from None
    if not all(abs(v) < float("inf") for v in values):
        raise InputRefused(f"{option} = {text}; the values must be finite")
    if max(map(abs, values)) > LARGEST:
        raise InputRefused(f"{option} = {text}; no value may be beyond {LARGEST:g}")
    if positive and min(values) <= 0.0:
        raise InputRefused(f"{option} = {text}; the values must be positive")
    return tuple(sorted(values))


def in_order(option: str, texts: Sequence[str]) -> tuple[float, ...]:
    """Values of an option that may be repeated, each once, as they were named.

    Raises
    ------
    InputRefused : as :func:`spaced`
    """
    found: list[float] = []
    for text in texts:
        values = list(spaced(option, text, positive=False))
        if ":" not in text:
            values.sort(key=[float(part) for part in text.split(",")].index)
        found += [value for value in values if value not in found]
    return tuple(found)


def chosen_target(base: float, left: float | None, right: float | None) -> FoldAngles | None:
    """Folds at the end of a command; a side left out keeps the base. None if none is given."""
    if left is None and right is None:
        return None
    return FoldAngles(base if left is None else left, base if right is None else right)


def checked_picture(path: Path | None) -> None:
    """Refuse a picture's name that no picture can have, before the work is done.

    Raises
    ------
    InputRefused : another ending, or a folder that is not there
    """
    if path is None:
        return
    if path.suffix.lower() not in PICTURES:
        raise InputRefused(f"--plot {path}; the ending must be .png, .svg or .pdf")
    if not path.parent.is_dir():
        raise InputRefused(f"--plot {path}; there is no folder {path.parent}")
