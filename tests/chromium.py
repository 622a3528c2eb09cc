"""Pages opened in a real browser without a window; what it complains about is kept.

Debian's Chromium is taken, or the one that FOLDSPAN_CHROMIUM names. Where there is none the tests
are skipped, but on the server (CI=true) that is a failure.
"""

import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest

NAMES = ("chromium", "chromium-browser", "google-chrome-stable", "google-chrome")
# No sandbox, as the tests may run as root; no requests of the browser's own.
FLAGS = ["--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking",
         "--disable-component-update", "--disable-sync", "--disable-quic"]  # fmt: skip


@dataclass
class Watched:
    """A page, and all that went wrong or over the network while it was open."""

    page: Any
    complaints: list[str] = field(default_factory=list)
    requests: list[str] = field(default_factory=list)


def chromium_path() -> str:
    """Where the browser is; skips the test, or fails on the server, if there is none."""
    named = os.environ.get("FOLDSPAN_CHROMIUM")
    found = named or next((path for name in NAMES if (path := shutil.which(name))), None)
    if found is None:
        message = "no Chromium here: install it, or name it in FOLDSPAN_CHROMIUM"
        if os.environ.get("CI"):
            pytest.fail(message)
        pytest.skip(message)
    return found


@contextmanager
def browser() -> Iterator[Any]:
    """A browser with a new, empty profile."""
    pytest.importorskip("playwright", reason="the extra 'test' is not installed")
    from playwright.sync_api import sync_playwright

    path = chromium_path()
    with sync_playwright() as driver:
        running = driver.chromium.launch(executable_path=path, args=FLAGS)
        try:
            yield running
        finally:
            running.close()


@contextmanager
def opened(running: Any, path: Path, **options: Any) -> Iterator[Watched]:
    """A file opened as a page; options are those of a new page (viewport, color_scheme, ...)."""
    page = running.new_page(**options)
    watched = Watched(page)
    page.on("console", lambda m: watched.complaints.append(f"{m.type}: {m.text}"))
    page.on("pageerror", lambda error: watched.complaints.append(f"error: {error}"))
    page.on("request", lambda request: watched.requests.append(request.url))
    try:
        page.goto(path.resolve().as_uri())
        yield watched
    finally:
        page.close()


def barriers(page: Any) -> list[str]:
    """What bars readers from a page, critical and serious (WCAG 2.2, A and AA), by axe-core."""
    pytest.importorskip("axe_playwright_python", reason="the extra 'test' is not installed")
    from axe_playwright_python.sync_playwright import Axe

    wanted = {"runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]}
    found = Axe().run(page, options=wanted).response["violations"]
    return [
        f"{one['id']} ({one['impact']}, {len(one['nodes'])}): {one['nodes'][0]['html'][:200]}"
        for one in found
        if one["impact"] in ("critical", "serious")
    ]


def contrast(first: str, second: str) -> float:
    """Contrast of two colours "rgb(r, g, b)" (WCAG 2.2, relative luminance and contrast ratio)."""

    def luminance(colour: str) -> float:
        inner = colour[colour.index("(") + 1 : -1].replace(",", " ").split()[:3]
        parts = [float(v) / 255.0 for v in inner]
        linear = [v / 12.92 if v <= 0.04045 else ((v + 0.055) / 1.055) ** 2.4 for v in parts]
        return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]

    light, dark = sorted((luminance(first), luminance(second)), reverse=True)
    return (light + 0.05) / (dark + 0.05)
