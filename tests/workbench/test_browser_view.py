"""The workbench in a real browser: reading the view, sizes of window, light and dark, beginning."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pytest
import shapely

import silhouette3d
from silhouette3d.base.quantities import mass_text, size_text
from tests.support.workbench import write_job
from tests.support.workbench_running import (
    SAMPLES,
    Running,
    ask,
    at_rest,
    copy_of,
    differing,
    drawn,
    opened,
    press,
    seen_when,
    started,
    told,
)

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

CRANE = silhouette3d.load(SAMPLES / "crane")


@pytest.fixture(scope="module")
def running(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    with started(copy_of("crane", tmp_path_factory.mktemp("view")), ".") as one:
        yield one


@pytest.fixture
def page(browser: Browser, running: Running) -> Iterator[Page]:
    with opened(browser, running) as one:
        drawn(one)
        ask(one, "switch", "mm")  # the crane's job is in inches
        yield one


def on_page(page: Page, at: list[float]) -> tuple[float, float]:
    """Where a point of the block is seen, in pixels of the page."""
    x, y = page.evaluate("at => workbench.eye.onScreen(at)", at)
    box = page.locator(".glass").bounding_box()
    assert box is not None
    return box["x"] + x, box["y"] + y


def top_corner() -> list[float]:
    """The highest corner of the crane that is nearest to the eye of the first view."""
    vertices = CRANE.solid.mesh.vertices
    high = vertices[vertices[:, 2] > vertices[:, 2].max() - 1e-6]
    return [float(x) for x in high[np.argmax(high @ (1.0, -1.0, 1.0))]]


def inside_top() -> list[float]:
    """The point of the highest faces that is furthest from their borders, and so from a corner."""
    mesh = CRANE.solid.mesh
    top = float(mesh.vertices[:, 2].max())
    flat = (np.abs(mesh.corners[:, :, 2] - top) < 1e-6).all(axis=1)
    face = shapely.union_all(shapely.polygons(mesh.corners[flat][:, :, :2]))
    circle = np.array(shapely.maximum_inscribed_circle([face]), dtype=object)
    return [*shapely.get_coordinates(circle)[0].tolist(), top]


def test_a_point_is_read(page: Page) -> None:
    """Within a hundredth of a millimetre and half a pixel: 24 bits of depth over the scene."""
    press(page, "Read a point")
    at = inside_top()
    nearer = "at => { const now = workbench.eye.state();"
    page.evaluate(nearer + " workbench.eye.place({...now, focus: at, scale: now.scale / 3}); }", at)
    page.mouse.click(*on_page(page, at))
    told(page, "x ", ".told")
    x, y, z = (float(word) for word in page.locator(".told").inner_text().split()[1:6:2])
    pixel = page.evaluate("workbench.eye.millimetresPerPixel()")
    assert z == pytest.approx(at[2], abs=0.011 + pixel)
    assert np.hypot(x - at[0], y - at[1]) < 2 * pixel + 0.011


def test_a_corner_is_caught_and_distances_are_told(page: Page) -> None:
    press(page, "Measure")
    corner = top_corner()
    x, y = on_page(page, corner)
    page.mouse.click(x - 1, y + 2)  # on the part, right beside the corner
    told(page, "(corner)", ".told")
    read = [float(word) for word in page.locator(".told").inner_text().split()[1:6:2]]
    vertices = CRANE.solid.mesh.vertices
    assert np.linalg.norm(vertices - read, axis=1).min() < 0.01  # written with two decimals
    reach = 9 * page.evaluate("workbench.eye.millimetresPerPixel()")
    assert np.linalg.norm(np.subtract(read, corner)) < reach
    page.mouse.click(*on_page(page, inside_top()))
    told(page, "apart", ".told")
    words = page.locator(".told").inner_text().replace(",", "").split()
    length, *along = (float(words[i]) for i in (0, 3, 6, 9))
    assert length == pytest.approx(np.linalg.norm(along), abs=0.02)  # four rounded numbers
    assert page.locator(".marks .span").count() == 1
    page.keyboard.press("Escape")


def test_cutting_open_shows_the_inside(page: Page) -> None:
    whole = at_rest(page)
    page.get_by_label("Cut open across").select_option("y")
    page.get_by_label("Where it is cut open").fill("0.5")
    cut = seen_when(page.locator(".glass"), lambda now: differing(whole, now) > 0.01)
    red, green, blue = np.moveaxis(cut, 2, 0)
    assert ((red - blue > 0.08) & (green - blue > 0.06)).mean() > 0.01  # faces of the cut are tan
    page.get_by_label("Cut open across").select_option("")
    seen_when(page.locator(".glass"), lambda now: differing(whole, now) < 0.002)


def test_prisms_are_shown_on_request(page: Page) -> None:
    whole = at_rest(page)
    press(page, "Prisms")
    seen_when(page.locator(".glass"), lambda now: differing(whole, now) > 0.01)


def test_units_are_switched(page: Page) -> None:
    told(page, mass_text(CRANE.mass, "mm"))
    page.click("text=in · lb")
    told(page, mass_text(CRANE.mass, "in"))
    told(page, size_text(CRANE.solid.size, "in"))
    page.click("text=mm · g")
    told(page, size_text(CRANE.solid.size, "mm"))


WINDOWS = [(1280, 720), (3840, 2160), (800, 1000)]


@pytest.mark.parametrize("size", WINDOWS, ids=lambda size: f"{size[0]}x{size[1]}")
def test_windows_narrow_and_wide(browser: Browser, running: Running, size: tuple[int, int]) -> None:
    with opened(browser, running, size) as page:
        drawn(page)
        width = page.evaluate("document.documentElement.scrollWidth")
        assert width <= size[0]
        glass = page.locator(".glass").bounding_box()
        assert glass is not None
        assert glass["width"] * glass["height"] > 0.4 * size[0] * size[1]  # most of the window
        for words in ("Save", "Undo", "Measure"):
            box = page.locator(f"button:has-text('{words}')").first.bounding_box()
            assert box is not None
            assert box["x"] >= 0
            assert box["x"] + box["width"] <= size[0]
        for row in (".bar nav button", ".tools button"):
            assert overlaps(page, row) == []


def overlaps(page: Page, what: str) -> list[str]:
    """Controls that lie on one another."""
    found: list[str] = page.evaluate(
        """what => {
          const all = [...document.querySelectorAll(what)]
            .map((e) => [e.innerText, e.getBoundingClientRect()]);
          return all.flatMap(([a, p], i) => all.slice(i + 1).filter(([, q]) =>
            p.left < q.right - 1 && q.left < p.right - 1
            && p.top < q.bottom - 1 && q.top < p.bottom - 1
          ).map(([b]) => `${a} and ${b}`));
        }""",
        what,
    )
    return found


PALE_TEXTS = """() => {
  const numbers = (text) => (text.match(/[\\d.]+/g) || []).map(Number);
  const light = ([r, g, b]) => [r, g, b]
    .map((x) => x / 255)
    .map((x) => (x <= 0.04045 ? x / 12.92 : ((x + 0.055) / 1.055) ** 2.4))
    .reduce((sum, x, i) => sum + x * [0.2126, 0.7152, 0.0722][i], 0);
  const ground = (element) => {
    for (let one = element; one; one = one.parentElement) {
      const colour = numbers(getComputedStyle(one).backgroundColor);
      if (colour.length === 3 || colour[3] === 1) return colour;
    }
    return [255, 255, 255];
  };
  const pale = [];
  let looked = 0;
  for (const element of document.querySelectorAll("body *")) {
    const own = [...element.childNodes].some((n) => n.nodeType === 3 && n.textContent.trim());
    if (!own || !element.checkVisibility()) continue;
    if (element.closest(":disabled, svg, .tools, option")) continue;
    const [a, b] = [light(numbers(getComputedStyle(element).color)), light(ground(element))];
    const ratio = (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05);
    looked += 1;
    if (ratio < 4.5) pale.push(`${element.innerText.slice(0, 30)} ${ratio.toFixed(2)}`);
  }
  return [looked, pale];
}"""
"""Texts whose contrast is below 4.5 : 1 (WCAG 2.2, success criterion 1.4.3), with the relative
luminance that it defines. Switched-off controls are exempt there."""


@pytest.mark.parametrize("look", ["light", "dark"])
def test_texts_have_contrast(browser: Browser, running: Running, look: str) -> None:
    with opened(browser, running, look=look) as page:
        drawn(page)
        page.wait_for_selector('.findings[aria-busy="false"]')
        dark = page.evaluate("getComputedStyle(document.body).color")
        assert dark == {"light": "rgb(27, 39, 51)", "dark": "rgb(232, 237, 242)"}[look]
        looked, pale = page.evaluate(PALE_TEXTS)
        assert looked > 40
        assert pale == []


def test_light_and_dark_are_chosen_and_kept(page: Page) -> None:
    colour = "getComputedStyle(document.body).backgroundColor"
    light = page.evaluate(colour)
    press(page, "Dark")
    dark = page.evaluate(colour)
    assert dark != light
    page.reload()
    drawn(page)
    assert page.evaluate(colour) == dark
    press(page, "Light")
    assert page.evaluate(colour) == light


def test_everything_has_a_name_and_is_reached_by_keys(page: Page) -> None:
    nameless = page.evaluate(
        """() => [...document.querySelectorAll(
            "button, select, input, [role=button], section, svg[tabindex]")]
          .filter((e) => e.checkVisibility())
          .filter((e) => !(e.innerText || e.ariaLabel || e.getAttribute("aria-labelledby")
            || (e.labels && e.labels.length)))
          .map((e) => e.outerHTML.slice(0, 90))"""
    )
    assert nameless == []
    reached = set()
    for _ in range(60):
        page.keyboard.press("Tab")
        reached.add(
            page.evaluate(
                """() => { const e = document.activeElement;
                  return e.className && e.tagName === "DIV" ? e.className : e.tagName; }"""
            )
        )
    assert {"BUTTON", "SELECT", "INPUT", "svg", "glass"} <= reached


def test_a_mistake_is_told_and_the_server_goes_on(page: Page) -> None:
    for name, given in (
        ("put", [["stock", "material"], "unobtainium"]),
        ("put", [["profile", 99, "turn"], 3.0]),
        ("shift", ["x", None]),
        ("want", [{"stage": "x"}]),
        ("add_tab", [0]),
    ):
        ask(page, name, *given)
        page.wait_for_selector('[role="alert"]')
        ask(page, "dismiss")
        page.wait_for_selector('[role="alert"]', state="detached")
    ask(page, "nudge", 0, 0.0, 0.1)
    told(page, "not saved", ".bar")
    ask(page, "undo")


def test_tabs_are_proposed_and_taken_over_only_when_accepted(
    browser: Browser, tmp_path: Path
) -> None:
    write_job(tmp_path)
    with started(tmp_path, ".") as running, opened(browser, running) as page:
        drawn(page)
        tabs = page.locator(".card .tab")
        assert tabs.count() == 0
        press(page, "Propose tabs")
        told(page, "Add tabs", "dialog[open]")
        page.click("dialog >> text=Leave it as it is")
        page.wait_for_selector("dialog[open]", state="detached")
        assert tabs.count() == 0
        press(page, "Propose tabs")
        page.click("dialog >> text=Take it over")
        page.wait_for_selector(".card .tab", state="attached")
        press(page, "Undo")  # they are one edit
        page.wait_for_selector(".card .tab", state="detached")


def test_begin_with_a_sample(browser: Browser, tmp_path: Path) -> None:
    with started(tmp_path) as running, opened(browser, running) as page:
        told(page, "silhouette3d", "h1")
        page.click("text=Open the sample “lighthouse”")
        drawn(page)
        part = silhouette3d.load(SAMPLES / "lighthouse")
        told(page, mass_text(part.mass, "mm"))
        assert (tmp_path / "lighthouse" / "job.toml").exists()


def test_begin_with_ones_own(browser: Browser, tmp_path: Path) -> None:
    drawing = SAMPLES / "crane" / "front.dxf"
    with started(tmp_path) as running, opened(browser, running) as page:
        page.fill("text=Name of the part", "Own part")
        page.fill("text=Width x", "120")
        page.set_input_files("input[type=file]", drawing)
        told(page, "front.dxf is in the folder now", ".upload")
        page.get_by_label("Layer").select_option("OUTLINE")
        press(page, "Make the part")
        drawn(page)
        told(page, "Own part", ".bar")
        told(page, "not saved", ".bar")
        page.keyboard.press("Control+s")
        page.wait_for_selector(".unsaved", state="detached")
        own = silhouette3d.load(tmp_path)
        assert own.name == "Own part"
        assert own.stock.size == (120.0, 40.0, 50.0)
        told(page, mass_text(own.mass, "mm"))
        page.set_input_files(
            "input[type=file]",
            {"name": "big.dxf", "mimeType": "", "buffer": b" " * 20_000_001},
        )
        told(page, "at most 20 MB", ".upload")
