"""The customer's page in a real browser, the network cut: it draws, turns, and is for everyone.

Pictures are compared by how many of their pixels differ by more than `NOISE`.
"""

from __future__ import annotations

import io
import math
import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image

import silhouette3d
from silhouette3d.documents.customer_page.facts import facts_of
from silhouette3d.documents.customer_page.write import write_page
from tests.documents.customer_page.test_write import CLEAT, HOSTILE, POSTS
from tests.support.browser import Watch, launch, watch
from tests.support.shapes import write_job

if TYPE_CHECKING:
    from playwright.sync_api import Browser, BrowserType, Locator, Page

ROOT = Path(__file__).resolve().parents[3]
LARGEST = 3_000_000
"""Bytes: what a mail server lets through without a thought."""

NOISE = 24
"""Of 3 × 255: smoothed edges may differ by that much when nothing has moved."""

RIM = 8
"""Pixels."""

Pixels = NDArray[np.int64]
Show = Callable[..., "Shown"]


class Shown:
    """A page on a screen."""

    def __init__(self, page: Page, seen: Watch) -> None:
        self.page, self.seen = page, seen

    @property
    def scene(self) -> Locator:
        return self.page.locator("#scene")

    def settle(self) -> None:
        """Until what was asked for has been drawn."""
        frames = "() => new Promise(r => requestAnimationFrame(() => requestAnimationFrame(r)))"
        self.page.evaluate(frames)

    def pixels(self) -> Pixels:
        """The scene as it is on the screen, without its rim, where the focus is shown."""
        self.settle()
        return pixels_of(self.scene.screenshot())[RIM:-RIM, RIM:-RIM]

    def press(self, *keys: str) -> Pixels:
        """Keys while the scene has the focus."""
        self.scene.focus()
        for key in keys:
            self.page.keyboard.press(key)
        return self.pixels()


def pixels_of(png: bytes) -> Pixels:
    with Image.open(io.BytesIO(png)) as image:
        return np.asarray(image.convert("RGB")).astype(int)


def changed(a: Pixels, b: Pixels) -> float:
    """The share of pixels that differ."""
    return float((np.abs(a - b).sum(axis=2) > NOISE).mean())


def drawn(pixels: Pixels) -> NDArray[np.bool_]:
    """Where something stands before the background, which has one colour in every row."""
    return np.asarray(np.abs(pixels - pixels[:, 3:4]).sum(axis=2) > NOISE)


@pytest.fixture(scope="module")
def file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A page with all there is, its names hostile."""
    folder = tmp_path_factory.mktemp("page")
    stock = {"material": "oak", "density": None}
    names = {"front": {"name": HOSTILE}}
    job = write_job(folder, CLEAT, name=HOSTILE, stock=stock, profiles=names)
    write_page(silhouette3d.load(job).results, folder / "cleat.html", 0.5, stages=True)
    return folder / "cleat.html"


@contextmanager
def shown(browser: Browser, file: Path, **options: Any) -> Iterator[Shown]:
    """A page in a context of its own, without network; it must ask for nothing else."""
    options = {"viewport": {"width": 640, "height": 480}, **options}
    context = browser.new_context(offline=True, **options)
    seen = watch(context)
    page = context.new_page()
    page.goto(file.as_uri())
    yield Shown(page, seen)
    context.close()
    assert [one for one in seen.requests if not one.startswith("data:")] == [file.as_uri()]


@pytest.fixture
def show(browser: Browser, file: Path) -> Iterator[Show]:
    """Opens the page, and looks for complaints when the test is over."""
    with_options = []

    def opened(**options: Any) -> Shown:
        holder = shown(browser, file, **options)
        with_options.append(holder)
        return holder.__enter__()

    watched: list[Shown] = []

    def remembered(**options: Any) -> Shown:
        watched.append(opened(**options))
        return watched[-1]

    yield remembered
    for holder in with_options:
        holder.__exit__(None, None, None)
    assert [one.seen.complaints for one in watched] == [[]] * len(watched)


# It draws.


def test_the_part_stands_where_it_should(show: Show, file: Path) -> None:
    """Its corners, projected here, bound what is drawn: nothing is mirrored or off."""
    on = show()
    pixels = on.pixels()
    height, width = (side + 2 * RIM for side in pixels.shape[:2])
    part = silhouette3d.load(file.parent / "job.toml")
    points = part.solid.mesh.vertices
    middle = (points.min(axis=0) + points.max(axis=0)) / 2.0
    radius = np.linalg.norm(points - middle, axis=1).max()
    half = math.radians(14.0)
    towards = np.array([1.0, -1.0, 1.0]) / math.sqrt(3.0)
    right = np.array([1.0, 1.0, 0.0]) / math.sqrt(2.0)
    eye = middle + towards * 1.05 * radius / math.sin(half)
    seen = (points - eye) @ np.column_stack([right, np.cross(towards, right), -towards])
    focal = height / 2.0 / math.tan(half)
    u, v = width / 2 + focal * seen[:, 0] / seen[:, 2], height / 2 - focal * seen[:, 1] / seen[:, 2]
    rows, columns = np.nonzero(drawn(pixels))
    found = np.array([columns.min(), rows.min(), columns.max() + 1, rows.max() + 1]) + RIM
    # lines are a pixel wide, their smoothed edges a further one
    assert np.abs(np.array([u.min(), v.min(), u.max(), v.max()]) - found).max() <= 2.0
    # the lower left corner of the block's front is free: the part begins 6 mm from it
    assert drawn(pixels).mean() > 0.1


def test_names_do_no_harm(show: Show) -> None:
    page = show().page
    assert page.title() == HOSTILE
    assert page.locator("h1").inner_text() == HOSTILE
    assert page.locator("body > script").count() == 5
    page.locator("#step").fill("1")
    assert HOSTILE in page.locator("#step-words").inner_text()


@pytest.mark.parametrize(
    ("sample", "stages"),
    [
        ("tugboat", True),
        ("crane", False),
        ("lighthouse", False),
        pytest.param("crane", True, marks=pytest.mark.big),
        pytest.param("lighthouse", True, marks=pytest.mark.big),
    ],
)
def test_samples_are_small_and_draw(
    browser: Browser, tmp_path: Path, sample: str, stages: bool
) -> None:
    part = silhouette3d.load(ROOT / "samples" / sample)
    path = tmp_path / f"{sample}.html"
    part.page(path, stages=stages)
    assert path.stat().st_size < LARGEST
    with shown(browser, path) as on:
        finished = on.pixels()
        assert drawn(finished).mean() > 0.05
        if stages:
            on.page.locator("#step").fill("1")
            assert changed(finished, on.pixels()) > 0.05
        facts = on.page.locator("dl").inner_text().replace("\N{NO-BREAK SPACE}", " ")
        for fact in facts_of(part.results):
            assert fact.value in facts
        assert on.seen.complaints == []


def test_several_bodies_are_all_drawn(browser: Browser, tmp_path: Path) -> None:
    shallow = replace(POSTS, size=(30.0, 4.0, 10.0))  # so that neither hides the other
    part = silhouette3d.load(write_job(tmp_path, shallow))
    part.page(tmp_path / "posts.html")
    with shown(browser, tmp_path / "posts.html") as on:
        pixels = on.pixels()
        from scipy.ndimage import label

        pieces, count = label(drawn(pixels))
        large = [k for k in range(1, count + 1) if (pieces == k).sum() > 500]
        assert len(large) == 2
        assert on.page.locator("#step").count() == 0
        assert on.seen.complaints == []


# It turns.


def test_keys_turn_zoom_and_reset(show: Show) -> None:
    on = show()
    start = on.pixels()
    assert not on.page.get_by_text("this browser does not draw in 3D").is_visible()
    seen = [start]
    for key in ("ArrowRight", "ArrowUp", "+", "ArrowLeft", "ArrowDown", "-"):
        seen.append(on.press(key))
        assert changed(seen[-2], seen[-1]) > 0.01, key
    assert changed(start, seen[-1]) < 0.001  # there and back again
    assert changed(start, on.press("ArrowLeft", "ArrowLeft", "+", "+")) > 0.05
    assert changed(start, on.press("0")) == 0.0
    zoomed = drawn(on.press("+", "+"))
    assert zoomed.sum() > 1.5 * drawn(start).sum()  # 1.2⁴ = 2.07, less where it leaves the frame


def test_what_keys_did_is_told(show: Show) -> None:
    on = show()
    on.press("ArrowRight", "ArrowDown")
    told = on.page.locator("#told")
    assert told.inner_text() == "Seen from 35° to the right of the front, 45° from above"
    assert told.get_attribute("role") == "status"
    on.press(*["ArrowRight"] * 4, *["ArrowUp"] * 6)
    assert told.inner_text() == "Seen from 5° to the left of the front, 15° from below"


def test_keys_with_others_are_left_to_the_browser(show: Show) -> None:
    on = show()
    start = on.pixels()
    assert changed(start, on.press("Shift", "a", "Alt+ArrowUp", "Control+-")) == 0.0


def test_a_mouse_turns_and_its_wheel_zooms(show: Show) -> None:
    on = show()
    start = on.pixels()
    box = on.scene.bounding_box()
    assert box
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    on.page.mouse.move(x, y)
    assert changed(start, on.pixels()) == 0.0  # no button
    on.page.mouse.down()
    on.page.mouse.move(x + 60, y + 10, steps=4)
    on.page.mouse.up()
    turned = on.pixels()
    assert changed(start, turned) > 0.03
    on.page.mouse.move(x, y)
    assert changed(turned, on.pixels()) == 0.0  # let go
    before = on.page.evaluate("scrollY")
    on.page.mouse.wheel(0, -200)
    for _ in range(50):  # a wheel is told of when the browser has time
        if changed(turned, on.pixels()):
            break
    assert drawn(on.pixels()).sum() > 1.2 * drawn(turned).sum()
    assert on.page.evaluate("scrollY") == before


def test_a_finger_turns_and_two_zoom(show: Show) -> None:
    on = show(has_touch=True, is_mobile=True, viewport={"width": 390, "height": 844})
    start = on.pixels()
    box = on.scene.bounding_box()
    assert box
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    touch(on.page, [[(x, y)], [(x + 30, y)], [(x + 80, y)]])
    turned = on.pixels()
    assert changed(start, turned) > 0.03
    touch(on.page, [[(x - 20, y), (x + 20, y)], [(x - 30, y), (x + 30, y)]])
    assert drawn(on.pixels()).sum() > 1.3 * drawn(turned).sum()
    assert on.page.evaluate("scrollY") == 0


def touch(page: Page, steps: list[list[tuple[float, float]]]) -> None:
    """Fingers put down, moved from step to step, and lifted."""
    session = page.context.new_cdp_session(page)
    for k, fingers in enumerate(steps):
        points = [{"x": x, "y": y, "id": i} for i, (x, y) in enumerate(fingers)]
        kind = "touchMove" if k else "touchStart"
        session.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})
    session.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})


def test_buttons_do_without_dragging(show: Show) -> None:
    """WCAG 2.2, 2.5.7: what is dragged can be done by single taps as well."""
    on = show()
    start = on.pixels()
    for name in ("Turn to the left", "Tip towards you", "Zoom in"):
        on.page.get_by_role("button", name=name).click()
        assert changed(start, on.pixels()) > 0.01, name
        on.page.get_by_role("button", name="Reset").click()
        assert changed(start, on.pixels()) == 0.0, name


# Stock and stages.


def test_the_stock_is_shown_and_hidden(show: Show) -> None:
    on = show()
    start = on.pixels()
    tick = on.page.get_by_label("Show the block it is cut from")
    tick.check()
    # The eye steps back until the stock's diagonal fits: the part alone would cover
    # (48² + 20² + 30²) / (60² + 30² + 40²) = 0.59 of what it did.
    assert drawn(on.pixels()).sum() > 0.9 * drawn(start).sum()
    tick.uncheck()
    assert changed(start, on.pixels()) == 0.0


def test_stages_are_shown_and_pulled_apart(show: Show) -> None:
    on = show()
    step, apart = on.page.get_by_label("Step"), on.page.get_by_label("Pulled apart")
    words = on.page.locator("#step-words")
    finished = on.pixels()
    assert words.inner_text().startswith("The part: 48 × 20 × 30 mm")
    seen = []
    for k in range(3):
        step.fill(str(k))
        seen.append(on.pixels())
    for a, b in zip(seen, [*seen[1:], finished], strict=True):
        assert changed(a, b) > 0.02
    assert re.match(r"After cut 2 of 2, top: \d pieces of waste", words.inner_text())
    apart.fill("0")
    together = on.pixels()
    assert changed(seen[2], together) > 0.02
    apart.fill("100")
    assert changed(together, on.pixels()) > 0.02
    assert apart.get_attribute("aria-valuetext") == "100 percent"


# Where there is no 3D, no script, or paper.


def test_without_webgl_there_is_the_picture(browser_type: BrowserType, file: Path) -> None:
    flat = launch(browser_type, "--disable-3d-apis")
    with shown(flat, file) as on:
        still_only(on)
        assert on.seen.complaints == []
    flat.close()


def test_without_scripts_there_is_the_picture(browser: Browser, file: Path) -> None:
    with shown(browser, file, java_script_enabled=False) as on:
        still_only(on)


def still_only(on: Shown) -> None:
    assert on.page.get_by_text("this browser does not draw in 3D").is_visible()
    still = on.page.get_by_role("img", name="seen from the front, the right and above")
    assert still.is_visible()
    assert not on.scene.is_visible()
    assert on.page.get_by_role("button").count() == 0
    assert drawn(pixels_of(still.screenshot())).mean() > 0.1
    for part in ("Size", "Weight", "Three views"):
        assert on.page.get_by_text(part, exact=True).is_visible()


def test_where_3d_breaks_down_there_is_the_picture(browser: Browser, file: Path) -> None:
    with shown(browser, file) as on:
        start = on.pixels()
        on.page.evaluate(
            """() => {
              const canvas = document.querySelector("#scene canvas");
              window.breaker = canvas.getContext("webgl2").getExtension("WEBGL_lose_context");
              breaker.loseContext();
            }"""
        )
        on.page.locator("#still").wait_for(state="visible")
        assert on.page.get_by_text("this browser does not draw in 3D").is_visible()
        on.page.evaluate("breaker.restoreContext()")
        on.scene.wait_for(state="visible")
        assert changed(start, on.pixels()) == 0.0


def test_on_paper_there_is_the_picture(show: Show) -> None:
    from pypdf import PdfReader

    on = show()
    on.page.emulate_media(media="print")
    assert on.page.locator("#still").is_visible()
    for gone in ("#scene", "button >> nth=0", "#stock", "#step"):
        assert not on.page.locator(gone).is_visible(), gone
    printed = PdfReader(io.BytesIO(on.page.pdf()))
    assert len(printed.pages) == 1
    words = printed.pages[0].extract_text().replace("\N{NO-BREAK SPACE}", " ")
    assert "48 × 20 × 30 mm" in words


# Nothing gets in or out.


def test_the_policy_is_kept(browser: Browser, file: Path) -> None:
    """What did not stand in the page when it was written neither runs nor loads nor leaves."""
    with shown(browser, file) as on:
        on.page.evaluate(
            """() => {
              const script = document.createElement("script");
              script.textContent = "window.taken = 1";
              document.body.append(script);
              const image = document.createElement("img");
              image.src = "https://192.0.2.1/a.png";
              document.body.append(image);
            }"""
        )
        out = on.page.evaluate("fetch('https://192.0.2.1/').then(() => 'out', () => 'kept')")
        assert out == "kept"
        assert on.page.evaluate("window.taken") is None
        on.settle()
        complaints = "\n".join(on.seen.complaints)
        for word in ("script-src", "img-src", "default-src"):
            assert word in complaints
        on.seen.requests[:] = [one for one in on.seen.requests if "192.0.2.1" not in one]


# For everyone.

COLOURS = """() => {
  const numbers = (colour) => colour.match(/[\\d.]+/g).map(Number);
  const behind = (element) => {
    for (let e = element; e; e = e.parentElement) {
      const [r, g, b, a = 1] = numbers(getComputedStyle(e).backgroundColor);
      if (a > 0) return [r, g, b];
    }
  };
  const found = [];
  for (const element of document.querySelectorAll("body *")) {
    const own = [...element.childNodes].some((n) => n.nodeType === 3 && n.textContent.trim());
    const style = getComputedStyle(element);
    const seen = element.getClientRects().length && !element.closest("script, .unseen, title");
    if (!own || !seen) continue;
    const name = `${element.tagName} ${element.textContent.trim().slice(0, 20)}`;
    const ink = numbers(element.closest("svg") ? style.fill : style.color);
    found.push([name, ink, behind(element)]);
  }
  return found;
}"""


def luminance(colour: list[float]) -> float:
    """Relative luminance as WCAG 2.2 defines it."""
    parts = [c / 255 for c in colour[:3]]
    r, g, b = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)
    return 0.2126 * r + 0.7152 * g + 0.0722 * b


def contrast(a: list[float], b: list[float]) -> float:
    """Contrast ratio as WCAG 2.2 defines it."""
    dark, light = sorted([luminance(a), luminance(b)])
    return (light + 0.05) / (dark + 0.05)


def test_contrast_is_that_of_the_definition() -> None:
    assert contrast([0, 0, 0], [255, 255, 255]) == pytest.approx(21.0)
    # the grey that techniques G18 and others name as the lightest allowed on white
    assert contrast([118, 118, 118], [255, 255, 255]) == pytest.approx(4.54, abs=0.005)


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_words_stand_out(show: Show, scheme: str) -> None:
    """WCAG 2.2, 1.4.3 (AA): 4.5 to 1 for text; 1.4.11: 3 to 1 for borders of controls."""
    on = show(color_scheme=scheme)
    found = on.page.evaluate(COLOURS)
    assert len(found) > 30
    assert any("text" in name for name, _, _ in found)  # those of the drawing as well
    low = {name: contrast(ink, paper) for name, ink, paper in found}
    assert {name: ratio for name, ratio in low.items() if ratio < 4.5} == {}
    rule = "getComputedStyle(document.querySelector('button')).borderTopColor"
    page = "getComputedStyle(document.body).backgroundColor"
    edge, paper = (
        list(map(float, re.findall(r"[\d.]+", on.page.evaluate(one)))) for one in (rule, page)
    )
    assert contrast(edge, paper) >= 3.0
    dark = luminance(paper) < 0.1
    assert dark == (scheme == "dark")


@pytest.mark.parametrize("width", [320, 390, 1280])
def test_nothing_is_cut_off(show: Show, width: int) -> None:
    """WCAG 2.2, 1.4.10: no scrolling sideways down to 320 pixels; 2.5.8: targets of 24 pixels."""
    on = show(viewport={"width": width, "height": 700})
    on.settle()
    assert on.page.evaluate("document.documentElement.scrollWidth") <= width
    for control in on.page.locator("button, label:has(input), input[type=range]").all():
        box = control.bounding_box()
        assert box
        assert min(box["width"], box["height"]) >= 24


def test_everything_can_be_reached_and_is_named(show: Show) -> None:
    on = show()
    names = []
    for _ in range(11):
        on.page.keyboard.press("Tab")
        name, line = on.page.evaluate(
            """() => {
              const e = document.activeElement, style = getComputedStyle(e);
              const label = e.labels?.[0]?.textContent || e.getAttribute("aria-label");
              return [(label || e.textContent).trim(), style.outlineStyle + style.outlineWidth];
            }"""
        )
        names.append(name)
        assert line == "solid3px", name  # the focus is visible: WCAG 2.2, 2.4.7
    assert names == [
        f"{HOSTILE} in 3D",
        "Turn to the left", "Turn to the right", "Tip away", "Tip towards you",
        "Zoom in", "Zoom out", "Reset",
        "Show the block it is cut from", "Step", "Pulled apart",
    ]  # fmt: skip
    assert on.page.get_by_role("img", name="Front, right and top view").is_visible()
    assert on.page.evaluate("document.documentElement.lang") == "en"
