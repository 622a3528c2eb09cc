"""Measure every page of the built docs: long ones are to be split, and none goes beyond its screen.

python .ci/page_sizes.py docs/_build/html
"""

import sys
from pathlib import Path

sys.path.append(str(Path(__file__).parents[1] / "tests"))

from chromium import browser

WIDTHS_PX = (390, 820, 1280, 1366)
WIDE_PX, MOST_PX = 1280, 8000
"""The screen on which a page's height is measured, and the highest it may be [px]."""


def faults(folder: Path) -> list[str]:
    """What is wrong with the pages of a folder, a line each.

    Raises
    ------
    FileNotFoundError : no page is there
    """
    paths = sorted(folder.rglob("*.html"))
    if not paths:
        raise FileNotFoundError(f"{folder}: no pages there")
    found = []
    with browser() as running:
        page = running.new_page()
        for path in paths:
            name = path.relative_to(folder).as_posix()
            page.goto(path.resolve().as_uri())
            for width in WIDTHS_PX:
                page.set_viewport_size({"width": width, "height": 900})
                wide, high = page.evaluate(
                    "[document.documentElement.scrollWidth, document.documentElement.scrollHeight]"
                )
                if wide > width:
                    found.append(f"{name}: {wide} px wide on a screen of {width}")
                if width == WIDE_PX and high > MOST_PX:
                    found.append(f"{name}: {high} px high, more than {MOST_PX}")
    return found


def main() -> int:
    """1 if any page is too long or too wide."""
    found = faults(Path(sys.argv[1]))
    print(*found, sep="\n", end="\n" if found else "")
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main())
