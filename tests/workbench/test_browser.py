"""The workbench in a real browser: the designer's day on the tugboat."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
import trimesh

import silhouette3d
from silhouette3d.base.quantities import mass_text, volume_text
from silhouette3d.workbench import edits
from tests.support.workbench_running import (
    PATIENCE,
    SAMPLES,
    Running,
    ask,
    copy_of,
    differing,
    drawn,
    opened,
    part_share,
    press,
    seen,
    seen_when,
    started,
    told,
)

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Locator, Page

TUG = silhouette3d.load(SAMPLES / "tugboat")


@pytest.fixture(scope="module")
def running(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    with started(copy_of("tugboat", tmp_path_factory.mktemp("bench")), ".") as one:
        yield one


@pytest.fixture
def page(browser: Browser, running: Running) -> Iterator[Page]:
    """The tugboat as it lies on the disk, just opened."""
    running.restore()
    with opened(browser, running) as one:
        one.wait_for_selector(".bench")
        if one.locator(".unsaved").count():
            ask(one, "reload")
        settled(one)
        yield one


def settled(page: Page) -> None:
    """Wait until it is all there."""
    from playwright.sync_api import expect

    expect(page.locator(".unsaved")).to_have_count(0, timeout=PATIENCE)
    expect(page.locator(".mass")).to_have_text(mass_text(TUG.mass, "mm"), timeout=PATIENCE)
    drawn(page)


def expect_count(what: Locator, count: int) -> None:
    from playwright.sync_api import expect

    expect(what).to_have_count(count, timeout=PATIENCE)


def moved(right: float, up: float) -> silhouette3d.Part:
    """The tugboat with its front outline moved."""
    return silhouette3d.Part(edits.shift(TUG.job, 0, (right, up)))


def volume(right: float, up: float) -> str:
    return volume_text(moved(right, up).solid.volume, "mm")


def test_the_tugboat_is_seen(page: Page) -> None:
    told(page, mass_text(TUG.mass, "mm"))
    told(page, "74 × 34 × 44 mm")
    assert page.locator(".card").count() == len(TUG.profiles)
    press(page, "Block")  # the ghost of the stock is grey, but lies over the part
    drawn(page)
    assert part_share(seen(page.locator(".glass"))) > 0.08  # the part fills a tenth of the view
    page.wait_for_selector(".strip li:nth-child(5) img")  # block, three cuts, part
    told(page, "the part is held", ".strip")


def test_an_outline_is_moved_by_keys_and_the_part_follows(page: Page) -> None:
    before = seen(page.locator(".glass"))
    page.focus(".card svg")
    page.keyboard.press("Shift+ArrowUp")
    page.keyboard.press("Shift+ArrowUp")
    page.keyboard.press("ArrowUp")
    page.keyboard.press("Alt+ArrowDown")
    told(page, volume(0.0, 2.09))
    seen_when(page.locator(".glass"), lambda now: differing(before, now) > 0.005)
    assert page.locator(".unsaved").is_visible()
    for _ in range(4):
        press(page, "Undo")
    told(page, volume(0.0, 0.0))
    assert not page.locator(".unsaved").is_visible()
    page.keyboard.press("Control+y")
    told(page, volume(0.0, 1.0))


def test_two_quick_edits_end_at_the_second(page: Page) -> None:
    field = page.locator(".card input[type=number]").first
    field.fill("6")
    field.fill("2.5")
    told(page, volume(2.5, 0.0))
    drawn(page)
    page.wait_for_selector('.findings[aria-busy="false"]')  # all of the first would be here now
    told(page, volume(2.5, 0.0))
    assert ask(page, "undo") is None
    told(page, volume(0.0, 0.0))  # what is typed into one field is one edit


def test_saving_keeps_comments(page: Page, running: Running) -> None:
    page.locator(".card input[type=number]").first.fill("1.25")
    told(page, "not saved", ".bar")
    page.keyboard.press("Control+s")
    page.wait_for_selector(".unsaved", state="detached")
    text = (running.folder / "job.toml").read_text("utf-8")
    was = running.files["job.toml"].decode("utf-8")
    comments = [line[line.index("#") :] for line in was.splitlines() if "#" in line]
    assert comments == [line[line.index("#") :] for line in text.splitlines() if "#" in line]
    assert silhouette3d.load(running.folder).job.profile[0].shift == (1.25, 0.0)
    page.reload()
    page.wait_for_selector(".card")
    assert page.locator(".card input[type=number]").first.input_value() == "1.25"


def test_a_broken_drawing_is_told_and_the_last_part_stays(page: Page, running: Running) -> None:
    drawing = running.folder / "front.dxf"
    whole = drawing.read_bytes()
    drawing.write_bytes(whole[: len(whole) // 2])
    told(page, "front.dxf", '[role="alert"]')
    assert part_share(seen(page.locator(".glass"))) > 0.04
    assert page.locator(".mass").inner_text() == mass_text(TUG.mass, "mm")
    drawing.write_bytes(whole)
    page.wait_for_selector('[role="alert"]', state="detached")


def test_a_click_on_a_finding_turns_the_view_and_marks_the_place(page: Page) -> None:
    page.wait_for_selector('.findings[aria-busy="false"]')
    before = page.evaluate("workbench.eye.state()")
    page.locator(".findings li button").first.click()
    page.wait_for_selector(".mark.chosen", state="attached")
    page.wait_for_function("scale => workbench.eye.state().scale < scale", arg=before["scale"])
    after = page.evaluate("workbench.eye.state()")
    found = next(one for one in TUG.findings if one.where is not None)
    assert after["focus"] == pytest.approx(found.where)
    # the place lies in the middle of the view, as drawn
    x, y = page.evaluate("at => workbench.eye.onScreen(at)", list(found.where or ()))
    box = page.locator(".glass").bounding_box()
    assert box is not None
    assert (x, y) == pytest.approx((box["width"] / 2, box["height"] / 2), abs=2)


def test_stages_are_stepped_through(page: Page) -> None:
    page.wait_for_selector(".strip li:nth-child(5) img")
    shown = [seen(page.locator(".glass"))]
    for title in ("Block", "1 front", "3 top"):
        page.click(f".strip >> text={title} >> nth=0")
        page.wait_for_selector(f'.strip button[aria-pressed="true"]:has-text("{title}")')
        page.wait_for_function(
            "n => workbench.shown === n", arg={"Block": 0, "1 front": 1}.get(title, 3)
        )
        before, glass = shown[-1], page.locator(".glass")
        shown.append(seen_when(glass, lambda now: differing(before, now) > 0.01))  # noqa: B023
    page.get_by_label("Move apart").fill("1")
    seen_when(page.locator(".glass"), lambda now: differing(shown[-1], now) > 0.01)
    press(page, "Play")
    page.wait_for_function("n => workbench.shown === n", arg=0)
    page.wait_for_function("n => workbench.shown === n", arg=1)
    press(page, "Stop")


def test_an_exported_stl_weighs_what_the_page_says(page: Page, running: Running) -> None:
    press(page, "Write files")
    page.fill("dialog input:not([type])", "tug")
    page.click("dialog >> text=Write tug.stl")
    told(page, "Written: tug.stl", "dialog[open]")
    mesh = trimesh.load_mesh(running.folder / "tug.stl")
    assert mesh.is_watertight
    assert volume_text(float(mesh.volume), "mm") == volume(0.0, 0.0)
    with page.expect_download() as download:
        page.click("dialog a")
    copy = Path(download.value.path())
    assert copy.read_bytes() == (running.folder / "tug.stl").read_bytes()
    page.click("dialog >> text=Write tug.stl")  # it is there now, and stays
    told(page, "there is such a file already", "dialog[open]")


def test_the_view_is_written_as_a_picture(page: Page, running: Running) -> None:
    press(page, "Write files")
    page.click("dialog >> text=Picture of the view")
    page.click("dialog button.main")
    told(page, re.compile(r"Written: \S+\.png"), "dialog[open]")  # not what was written before
    (picture,) = running.folder.glob("*.png")
    from matplotlib.image import imread

    assert part_share(imread(picture)[:, :, :3]) > 0.04


def test_a_file_changed_elsewhere_is_asked_about(page: Page, running: Running) -> None:
    page.locator(".card input[type=number]").first.fill("1.5")
    told(page, "not saved", ".bar")
    job = running.folder / "job.toml"
    job.write_text(
        job.read_text("utf-8").replace("Harbour tug desk weight", "Another tug"), "utf-8"
    )
    told(page, "changed elsewhere", "dialog[open]")
    page.click("dialog >> text=Save mine beside it")
    page.wait_for_selector("dialog[open]", state="detached")
    told(page, "job-2.toml", ".bar")
    assert silhouette3d.load(running.folder / "job-2.toml").job.profile[0].shift == (1.5, 0.0)
    assert "Another tug" in job.read_text("utf-8")
    assert ask(page, "open", "job.toml") is True
    running.restore()


def test_leaving_with_unsaved_changes_is_asked_about(page: Page) -> None:
    page.locator(".card input[type=number]").first.fill("1.5")
    told(page, "not saved", ".bar")
    asked: list[str] = []

    def stay(dialog: object) -> None:
        asked.append(dialog.type)  # type: ignore[attr-defined]
        dialog.dismiss()  # type: ignore[attr-defined]

    page.on("dialog", stay)
    page.close(run_before_unload=True)
    for _ in range(PATIENCE // 100):
        if asked:
            break
        page.wait_for_timeout(100)
    assert asked == ["beforeunload"]
    page.locator(".card input[type=number]").first.fill("0")  # stayed, and still connected
    told(page, volume(0.0, 0.0))


def test_tabs_are_added_moved_and_taken_away(page: Page, running: Running) -> None:
    card = page.locator(".card").nth(2)
    card.locator("h3 button").click()
    box = card.locator("svg .outline").bounding_box()
    assert box is not None
    page.mouse.click(box["x"] + box["width"] * 0.4, box["y"])  # the far side of the hull
    told(page, "Tab 1", ".card.chosen")
    tab = card.locator(".tab circle")
    first = tab.bounding_box()
    assert first is not None
    page.mouse.move(first["x"] + first["width"] / 2, first["y"] + first["height"] / 2)
    page.mouse.down()
    page.mouse.move(first["x"] + 20, first["y"], steps=4)
    page.mouse.move(first["x"] + 40, first["y"] + 1, steps=4)
    page.mouse.up()
    page.wait_for_function(
        "x => document.querySelectorAll('.card')[2].querySelector('.tab circle')"
        ".getBoundingClientRect().x > x + 25",
        arg=first["x"],
    )
    press(page, "Undo")  # the drag is one edit
    page.wait_for_function(
        "x => Math.abs(document.querySelectorAll('.card')[2].querySelector('.tab circle')"
        ".getBoundingClientRect().x - x) < 2",
        arg=first["x"],
    )
    card.locator(".tab").focus()
    page.keyboard.press("Shift+ArrowLeft")
    page.wait_for_function(
        "x => document.querySelectorAll('.card')[2].querySelector('.tab circle')"
        ".getBoundingClientRect().x < x - 5",
        arg=first["x"],
    )
    page.keyboard.press("Delete")
    page.wait_for_function("() => !document.querySelectorAll('.card')[2].querySelector('.tab')")


def test_one_more_outline(page: Page) -> None:
    page.click("text=One more outline")
    page.set_input_files(".more input[type=file]", SAMPLES / "lighthouse" / "front.svg")
    page.get_by_label("Seen from").last.select_option("rear")
    press(page, "Add it")
    expect_count(page.locator(".card"), 4)
    assert "front.svg" in page.locator(".card").last.inner_text()
    press(page, "Undo")
    expect_count(page.locator(".card"), 3)
    told(page, volume(0.0, 0.0))


def test_an_order_is_proposed_and_taken_over_only_when_accepted(page: Page) -> None:
    ask(page, "order", ["top", "front", "right"])
    told(page, "1. top", ".order")
    press(page, "Propose an order")
    told(page, "Cut in this order", "dialog[open]")
    page.click("dialog >> text=Leave it as it is")
    told(page, "1. top", ".order")
    press(page, "Propose an order")
    page.click("dialog >> text=Take it over")
    page.wait_for_function("() => !document.querySelector('.order').innerText.includes('1. top')")
