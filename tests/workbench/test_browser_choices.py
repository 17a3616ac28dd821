"""A drawing that gives no outline, in a real browser: what may be declared is a button."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

import silhouette3d
from tests.support.dxf_files import bare, tags
from tests.support.workbench_running import PATIENCE, Running, opened, press, started, told

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Locator, Page

MM = tags((9, "$INSUNITS"), (70, 4))
PLATE = ((0, 0), (40, 0), (40, 30), (0, 30))


def line(*ends: float, colour: int) -> str:
    places = zip((10, 20, 11, 21), ends, strict=True)
    return tags((0, "LINE"), (8, "0"), (62, colour), *places)


def plate(colour: int) -> str:
    sides = zip(PLATE, PLATE[1:] + PLATE[:1], strict=True)
    return "".join(line(*a, *b, colour=colour) for a, b in sides)


def box(u0: float, v0: float, u1: float, v1: float) -> str:
    corners = ((u0, v0), (u1, v0), (u1, v1), (u0, v1))
    vertices = "".join(tags((0, "VERTEX"), (8, "0"), (10, u), (20, v)) for u, v in corners)
    return tags((0, "POLYLINE"), (8, "0"), (66, 1), (70, 1)) + vertices + tags((0, "SEQEND"))


SCORED = plate(colour=1) + line(5, 15, 35, 15, colour=5)
"""A plate in red, and a line to be scored in blue."""

SLOTTED = box(0, 0, 40, 30) + box(15, -5, 25, 15)
"""A slot of 10 mm drawn across the lower edge, 15 mm deep."""


def write(folder: Path, drawing: str) -> None:
    (folder / "front.dxf").write_text(bare(drawing, header=MM))


@pytest.fixture
def page(browser: Browser, tmp_path: Path) -> Iterator[tuple[Page, Running]]:
    """A job whose only drawing has a line that does not close."""
    write(tmp_path, SCORED)
    (tmp_path / "job.toml").write_text(
        'name = "Scored plate"\n[stock]\nsize = [50.0, 10.0, 40.0]\ndensity = 1.0\n'
        '[[profile]]\nview = "front"\ndrawing = "front.dxf"\n'
    )
    with started(tmp_path, ".") as running, opened(browser, running) as one:
        one.wait_for_selector(".card.refused")
        yield one, running


def count(what: Locator, number: int) -> None:
    from playwright.sync_api import expect

    expect(what).to_have_count(number, timeout=PATIENCE)


def fields(page: Page) -> None:
    """Open what of the drawing counts, on the only card."""
    details = page.locator(".card .counts")
    if details.get_attribute("open") is None:
        details.locator("summary").click()


def test_offers_are_buttons_and_each_gives_what_it_says(page: tuple[Page, Running]) -> None:
    one, running = page
    card = one.locator(".card.refused")
    count(card.locator(".loose"), 2)
    assert "2 × end inside" in card.inner_text()
    offers = card.locator(".offers button")
    assert [re.sub(r"\s+", " ", text) for text in offers.all_inner_texts()] == [
        "colour #ff0000 alone 1200 mm²",
        "what closes, open lines left out 1200 mm²",
        "the silhouette of everything 1200 mm²",
    ]
    for k, (key, value) in enumerate(
        (("colour", "#ff0000"), ("open", "ignore"), ("take", "silhouette"))
    ):
        offers.nth(k).click()
        told(one, "12 g")  # 1200 mm² of 10 mm at 1 g/cm³
        count(one.locator(".card.refused"), 0)
        press(one, "Save")
        one.wait_for_selector(".unsaved", state="detached")
        saved = silhouette3d.load(running.folder)
        assert getattr(saved.job.profile[0], key) == value
        assert saved.profiles[0].area.area == 1200.0
        press(one, "Undo")
        one.wait_for_selector(".card.refused")


def test_fields_declare_the_same(page: tuple[Page, Running]) -> None:
    one, _ = page
    one.get_by_label("Colour").select_option("#ff0000")
    told(one, "12 g")
    fields(one)
    one.get_by_label("Colour").select_option("")
    one.wait_for_selector(".card.refused")
    one.get_by_label("Lines that do not close").select_option("ignore")
    told(one, "12 g")
    one.locator(".card h3 button").click()
    told(one, "1 line that does not close was left out", ".card")


def test_what_overlapping_loops_make_is_chosen_by_area(page: tuple[Page, Running]) -> None:
    one, running = page
    write(running.folder, SLOTTED)
    told(one, "12.5 g")
    told(one, "loops overlap", ".findings")
    fields(one)
    rules = one.get_by_label("Loops that overlap")
    texts = rules.locator("option").all_inner_texts()
    assert texts == [
        "united, with a warning: 1250 mm²",
        "united: 1250 mm²",
        "the smaller taken from the larger: 1050 mm²",
        "what lies in an odd number of them: 1100 mm²",
    ]
    rules.select_option("subtract")
    told(one, "10.5 g")
    one.wait_for_selector('.findings[aria-busy="false"]')
    assert "loops overlap" not in one.locator(".findings").inner_text()


def test_a_mistake_leaves_the_card_of_a_refused_drawing(page: tuple[Page, Running]) -> None:
    one, _ = page
    one.evaluate("window.workbench.ask('put', ['profile', 0, 'take'], 'everything')")
    told(one, '"silhouette"', ".trouble")
    press(one, "Understood")
    count(one.locator(".card.refused .offers button"), 3)
