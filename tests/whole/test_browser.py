"""The browser that the tests of pages use: what becomes of them where there is none."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from tests.support.browser import NAMES, REQUIRED, find_chromium, launch, watch

if TYPE_CHECKING:
    from playwright.sync_api import Browser, BrowserType


@pytest.fixture
def bare(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder that is all there is on the PATH."""
    monkeypatch.setenv("PATH", str(tmp_path))
    return tmp_path


@pytest.mark.parametrize("name", NAMES)
def test_any_of_its_names_is_found(bare: Path, name: str) -> None:
    assert find_chromium() is None
    program = bare / name
    program.write_text("#!/bin/sh\n")
    program.chmod(0o755)
    assert find_chromium() == str(program)


@pytest.mark.usefixtures("bare")
def test_without_one_the_test_is_skipped_with_the_reason(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv(REQUIRED, raising=False)
    with pytest.raises(pytest.skip.Exception, match=r"no Chromium on the PATH.*apt-get install"):
        launch(None)  # type: ignore[arg-type]


@pytest.mark.usefixtures("bare")
def test_where_it_is_required_the_test_fails(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(REQUIRED, "required")
    with pytest.raises(pytest.fail.Exception, match="no Chromium on the PATH"):
        launch(None)  # type: ignore[arg-type]


PAGE = """<!DOCTYPE html><title>t</title><canvas id="c"></canvas><script>
document.title = document.getElementById("c").getContext("webgl2") ? "3D" : "flat";
</script>"""


def opened(browser: Browser, path: Path, body: str) -> tuple[str, list[str], list[str]]:
    path.write_text(body)
    context = browser.new_context(offline=True)
    seen = watch(context)
    page = context.new_page()
    page.goto(path.as_uri())
    title = page.title()
    context.close()
    return title, seen.requests, seen.complaints


def test_it_draws_in_3d(browser: Browser, tmp_path: Path) -> None:
    path = tmp_path / "page.html"
    assert opened(browser, path, PAGE) == ("3D", [path.as_uri()], [])


def test_3d_can_be_taken_away(browser_type: BrowserType, tmp_path: Path) -> None:
    flat = launch(browser_type, "--disable-3d-apis")
    assert opened(flat, tmp_path / "page.html", PAGE)[0] == "flat"
    flat.close()


def test_requests_and_complaints_are_seen(browser: Browser, tmp_path: Path) -> None:
    body = '<title>t</title><img src="http://192.0.2.1/a.png"><script>oops()</script>'
    _, requests, complaints = opened(browser, tmp_path / "page.html", body)
    assert requests[1:] == ["http://192.0.2.1/a.png"]
    assert any("oops is not defined" in one for one in complaints)
    assert any("ERR_INTERNET_DISCONNECTED" in one for one in complaints)
