"""A workbench that runs in a process of its own, as a user starts it, and a page on it."""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import urlsplit

import numpy as np
from matplotlib.image import imread
from numpy.typing import NDArray

from tests.support.browser import watch

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Locator, Page

SAMPLES = Path(__file__).parents[2] / "samples"

Picture = NDArray[np.float64]
"""(height, width, 3), each from 0 to 1."""

PATIENCE = 60_000
"""Milliseconds after which a test gives up: a busy machine is no mistake of the workbench."""


@dataclass
class Running:
    """A workbench: its folder, its address, and the files that lay there at first."""

    folder: Path
    address: str
    files: dict[str, bytes]

    @property
    def origin(self) -> str:
        parts = urlsplit(self.address)
        return f"{parts.scheme}://{parts.netloc}"

    def restore(self) -> None:
        """The folder as it was at first."""
        for path in self.folder.iterdir():
            if path.is_dir():
                shutil.rmtree(path)
            elif path.name not in self.files:
                path.unlink()
        for name, data in self.files.items():
            if (self.folder / name).read_bytes() != data:
                (self.folder / name).write_bytes(data)


@contextmanager
def started(folder: Path, *arguments: str) -> Iterator[Running]:
    """Start ``silhouette3d open`` in a folder, and end it as Ctrl-C does."""
    process = subprocess.Popen(
        [sys.executable, "-m", "silhouette3d", "open", *arguments, "--no-browser"],
        cwd=folder,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        env=environment(),
    )
    try:
        assert process.stdout is not None
        line = process.stdout.readline()
        found = re.search(r"http://\S+", line)
        assert found, line + process.communicate(timeout=60)[0]
        files = {path.name: path.read_bytes() for path in folder.iterdir() if path.is_file()}
        yield Running(folder, found.group(), files)
    finally:
        process.terminate()
        process.wait(60)
        assert process.stdout is not None
        process.stdout.close()
    assert process.returncode == 0


def environment() -> dict[str, str]:
    import os

    root = str(Path(__file__).parents[2])
    return {**os.environ, "PYTHONPATH": root}


def copy_of(sample: str, folder: Path) -> Path:
    """A sample copied to where it may be changed."""
    pictures = shutil.ignore_patterns("*.png")
    return Path(shutil.copytree(SAMPLES / sample, folder / sample, ignore=pictures))


@contextmanager
def opened(
    browser: Browser, running: Running, size: tuple[int, int] = (1280, 720), look: Any = "light"
) -> Iterator[Page]:
    """A page on a workbench; complaints on the console and requests elsewhere are failures."""
    context = browser.new_context(
        viewport={"width": size[0], "height": size[1]},
        color_scheme=look,
        reduced_motion="reduce",  # turns of the view are done at once
        accept_downloads=True,
    )
    context.set_default_timeout(PATIENCE)
    seen = watch(context)
    page = context.new_page()
    page.goto(running.address)
    page.wait_for_function("window.workbench && window.workbench.ask")
    yield page
    elsewhere = [
        url for url in seen.requests if not url.startswith((running.origin, "data:", "blob:"))
    ]
    context.close()
    assert elsewhere == []
    assert seen.complaints == []


def ask(page: Page, name: str, *given: object) -> Any:
    """Have the page ask the server for something, and wait for the answer."""
    return page.evaluate("([name, given]) => workbench.ask(name, ...given)", [name, list(given)])


def press(page: Page, name: str) -> None:
    """A button; words alone may also stand in what is told."""
    page.get_by_role("button", name=name).first.click()


def seen(what: Locator) -> Picture:
    """What a part of the page looks like: (height, width, 3), 0 to 1."""
    from io import BytesIO

    return np.asarray(imread(BytesIO(what.screenshot()), format="png"), float)[:, :, :3]


def seen_when(what: Locator, is_so: Callable[[Picture], bool]) -> Picture:
    """What a part of the page looks like as soon as something is so."""
    for _ in range(PATIENCE // 1000):
        now = seen(what)
        if is_so(now):
            return now
        what.page.wait_for_timeout(200)
    raise AssertionError("it never came to look like that")


def drawn(page: Page) -> None:
    """Wait until the view shows the newest result."""
    page.wait_for_selector(".bench")
    page.wait_for_function("workbench.newest > 0 && workbench.drawn >= workbench.newest")


def at_rest(page: Page) -> Picture:
    """What the view shows once all is worked out: no mark comes later, and no word over it goes."""
    drawn(page)
    page.wait_for_selector('.findings[aria-busy="false"]')
    page.wait_for_selector(".busy span", state="detached")
    return seen(page.locator(".glass"))


def told(page: Page, text: str | re.Pattern[str], where: str = ".figures") -> None:
    """Wait until a place on the page says so."""
    from playwright.sync_api import expect

    expect(page.locator(where).first).to_contain_text(text, timeout=PATIENCE)


def differing(a: Picture, b: Picture) -> float:
    """The share of pixels that differ visibly."""
    assert a.shape == b.shape
    return float((np.abs(a - b).max(axis=2) > 0.1).mean())


def part_share(image: Picture) -> float:
    """The share of pixels in the blue of the part, lit or in shade: none of grey or white."""
    red, green, blue = np.moveaxis(image, 2, 0)
    return float(((blue - red > 0.12) & (green > red) & (blue > 0.3)).mean())
