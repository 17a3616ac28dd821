"""A real browser for the tests of pages: Debian's Chromium, headless, driven by Playwright.

Where there is no Chromium these tests are skipped and say so; with ``BROWSER_TESTS=required``
in the environment, as `.ci/run` sets it, they fail instead.
"""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final

import pytest

if TYPE_CHECKING:
    from playwright.sync_api import Browser, BrowserContext, BrowserType, Page

__all__ = ["Watch", "browser", "browser_type", "find_chromium", "launch", "watch"]

NAMES: Final = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")
REQUIRED: Final = "BROWSER_TESTS"

FLAGS: Final = (
    "--no-sandbox",  # needed by root, as whom CI runs
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)
WEBGL: Final = (
    "--use-angle=swiftshader",
    "--enable-unsafe-swiftshader",
    "--disable-gpu-rasterization",
)
"""WebGL drawn by the processor: the same picture on every machine. All else on a page is painted
as a browser without a graphics card does it, and not through the graphics card that the
processor then plays."""


def find_chromium() -> str | None:
    """The path of a Chromium on this machine, or None."""
    return next(filter(None, map(shutil.which, NAMES)), None)


def launch(kind: BrowserType, *flags: str) -> Browser:
    """A headless Chromium with flags of one's own; who calls closes it."""
    program = _chromium()
    return kind.launch(executable_path=program, args=[*FLAGS, *flags])


def _chromium() -> str:
    """The path of a Chromium; without one the test ends here."""
    found = find_chromium()
    if found is not None:
        return found
    reason = f"there is no Chromium on the PATH (looked for {', '.join(NAMES)})"
    if os.environ.get(REQUIRED) == "required":
        pytest.fail(f"{reason}, and {REQUIRED}=required")
    pytest.skip(f"{reason}: apt-get install chromium")


@pytest.fixture(scope="session")
def browser_type() -> Iterator[BrowserType]:
    """What `launch` needs. Playwright can be started once in a process only."""
    _chromium()
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        yield playwright.chromium


@pytest.fixture(scope="session")
def browser(browser_type: BrowserType) -> Iterator[Browser]:
    """One Chromium with WebGL for all tests; make a context in it for each test."""
    opened = launch(browser_type, *WEBGL)
    yield opened
    opened.close()


@dataclass
class Watch:
    """What went on in a context: every address asked for, and every complaint."""

    requests: list[str] = field(default_factory=list)
    complaints: list[str] = field(default_factory=list)
    """Errors and warnings on the console, and exceptions that no script caught."""

    def see(self, page: Page) -> None:
        page.on("pageerror", lambda error: self.complaints.append(f"exception: {error}"))
        page.on(
            "console",
            lambda message: (
                self.complaints.append(f"{message.type}: {message.text}")
                if message.type in {"error", "warning"}
                else None
            ),
        )


def watch(context: BrowserContext) -> Watch:
    """Watch every page that a context opens from now on."""
    seen = Watch()
    context.on("request", lambda request: seen.requests.append(request.url))
    context.on("page", seen.see)
    return seen
