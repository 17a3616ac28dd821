"""Files looked after: something in their folders makes one look."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from pathlib import Path
from typing import NoReturn

import pytest
import watchfiles

from silhouette3d.workbench import folder as watching_files
from silhouette3d.workbench.folder import Watcher
from tests.support.workbench import Loop


@pytest.fixture
def loop() -> Loop:
    return Loop()


@pytest.fixture
def seen() -> list[str]:
    """What was in the file each time one looked."""
    return []


@pytest.fixture
def watcher(loop: Loop, seen: list[str], tmp_path: Path) -> Iterator[Watcher]:
    def look() -> None:
        path = tmp_path / "a.svg"
        seen.append(path.read_text() if path.exists() else "")

    made = Watcher(look, loop.post)
    yield made
    made.stop()


def test_what_is_written_replaced_or_removed_is_seen(
    watcher: Watcher, loop: Loop, seen: list[str], tmp_path: Path
) -> None:
    path = tmp_path / "a.svg"
    watcher.watch([path])
    loop.until(lambda: seen == [""])
    path.write_text("one")
    loop.until(lambda: seen[-1] == "one")
    (tmp_path / "draft").write_text("two")
    (tmp_path / "draft").replace(path)
    loop.until(lambda: seen[-1] == "two")
    path.unlink()
    loop.until(lambda: seen[-1] == "")


def test_other_folders_can_be_looked_after_instead(
    watcher: Watcher, loop: Loop, seen: list[str], tmp_path: Path
) -> None:
    (tmp_path / "sub").mkdir()
    watcher.watch([tmp_path / "a.svg"])
    watcher.watch([tmp_path / "a.svg", tmp_path / "sub" / "b.svg", tmp_path / "none" / "c.svg"])
    loop.until(lambda: seen)
    (tmp_path / "a.svg").write_text("one")
    loop.until(lambda: seen[-1] == "one")
    watcher.watch([])
    loop.drain()
    before = len(seen)
    (tmp_path / "a.svg").write_text("two")
    assert not loop.waits()
    assert len(seen) == before


def test_where_the_system_tells_nothing_one_looks_all_the_same(
    watcher: Watcher,
    loop: Loop,
    seen: list[str],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    caplog: pytest.LogCaptureFixture,
) -> None:
    def refuse(*_: object, **__: object) -> NoReturn:
        raise OSError("no space left for watches")

    monkeypatch.setattr(watchfiles, "watch", refuse)
    monkeypatch.setattr(watching_files, "ROUND", 10)
    watcher.watch([tmp_path / "a.svg"])
    loop.until(lambda: seen)
    (tmp_path / "a.svg").write_text("one")
    loop.until(lambda: seen[-1] == "one")
    assert "no space left" in caplog.text


def watching() -> set[threading.Thread]:
    return {thread for thread in threading.enumerate() if thread.name == "workbench files"}


def test_the_same_folders_are_not_begun_anew(watcher: Watcher, tmp_path: Path) -> None:
    before = watching()
    watcher.watch([tmp_path / "a.svg"])
    (thread,) = watching() - before
    watcher.watch([tmp_path / "b.svg"])
    assert watching() - before == {thread}


def test_it_ends(watcher: Watcher, tmp_path: Path) -> None:
    before = watching()
    watcher.watch([tmp_path / "a.svg"])
    assert len(watching() - before) == 1
    watcher.stop()
    assert watching() - before == set()
    watcher.stop()
