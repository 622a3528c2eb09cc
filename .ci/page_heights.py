"""Measure every page of the built docs on a screen of 1280 px; long ones are to be split.

python .ci/page_heights.py docs/_build/html
"""

import sys
from pathlib import Path

sys.path.append(str(Path(__file__).parents[1] / "tests"))

from chromium import browser

WIDE_PX, MOST_PX = 1280, 8000


def heights(folder: Path) -> dict[str, int]:
    """Height of each page, by its path in the folder [px]."""
    found = {}
    with browser() as running:
        page = running.new_page(viewport={"width": WIDE_PX, "height": 900})
        for path in sorted(folder.rglob("*.html")):
            page.goto(path.resolve().as_uri())
            height = page.evaluate("document.documentElement.scrollHeight")
            found[path.relative_to(folder).as_posix()] = int(height)
    return found


def main() -> int:
    """1 if any page is too long."""
    found = heights(Path(sys.argv[1]))
    long = {name: height for name, height in found.items() if height > MOST_PX}
    for name, height in sorted(long.items(), key=lambda one: -one[1]):
        print(f"{name}: {height} px, more than {MOST_PX}")
    if not found:
        print("no pages there")
    return 1 if long or not found else 0


if __name__ == "__main__":
    sys.exit(main())
