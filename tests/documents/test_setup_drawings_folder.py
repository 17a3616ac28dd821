"""Files that belong together: all of them in their folder, or everything as it was."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from silhouette3d.documents.setup_drawings import written_together
from silhouette3d.errors import OutputError

FILES = {"01.txt": "one", "02.txt": "two"}


def write(folder: Path, files: dict[str, str] = FILES) -> None:
    with written_together(folder) as draft:
        for name, text in files.items():
            (draft / name).write_text(text)


def held(folder: Path) -> dict[str, str]:
    return {file.name: file.read_text() for file in folder.iterdir()}


def test_a_new_folder(tmp_path: Path) -> None:
    write(tmp_path / "new")
    assert held(tmp_path / "new") == FILES
    assert [p.name for p in tmp_path.iterdir()] == ["new"]


def test_a_folder_that_is_there(tmp_path: Path) -> None:
    write(tmp_path, {"01.txt": "old", "mine.txt": "kept"})
    write(tmp_path)
    assert held(tmp_path) == FILES | {"mine.txt": "kept"}


def test_a_link_to_a_folder(tmp_path: Path) -> None:
    (tmp_path / "real").mkdir()
    (tmp_path / "link").symlink_to(tmp_path / "real")
    write(tmp_path / "link")
    assert (tmp_path / "link").is_symlink()
    assert held(tmp_path / "real") == FILES


@pytest.mark.parametrize("before", [None, {"01.txt": "old", "mine.txt": "kept"}])
def test_a_failure_of_the_caller_changes_nothing(
    tmp_path: Path, before: dict[str, str] | None
) -> None:
    folder = tmp_path / "out"
    if before:
        write(folder, before)
    with pytest.raises(ZeroDivisionError), written_together(folder) as draft:
        (draft / "01.txt").write_text(str(1 / 0))
    assert folder.exists() == bool(before)
    assert not before or held(folder) == before
    assert len(list(tmp_path.iterdir())) == bool(before)


def test_a_file_that_cannot_be_moved_has_all_put_back(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = {"01.txt": "old", "02.txt": "older", "mine.txt": "kept"}
    write(tmp_path, before)
    replace = os.replace

    def fail_late(source: Path, target: Path) -> None:
        if source.name == "02.txt" and source.read_text() == "two":
            raise OSError(28, "No space left on device")
        replace(source, target)

    monkeypatch.setattr(os, "replace", fail_late)
    with pytest.raises(OutputError, match="the files cannot be written: the disk is full"):
        write(tmp_path)
    assert held(tmp_path) == before


def test_a_folder_in_place_of_a_file_is_refused(tmp_path: Path) -> None:
    (tmp_path / "02.txt").mkdir()
    (tmp_path / "02.txt" / "deep").write_text("kept")
    with pytest.raises(OutputError, match=r"02\.txt is a folder"):
        write(tmp_path)
    assert [p.name for p in tmp_path.iterdir()] == ["02.txt"]
    assert held(tmp_path / "02.txt") == {"deep": "kept"}


def test_a_file_of_that_name(tmp_path: Path) -> None:
    (tmp_path / "out").write_text("mine")
    with pytest.raises(OutputError, match="this is a file, not a folder") as caught:
        write(tmp_path / "out")
    assert caught.value.where == str(tmp_path / "out")
    assert held(tmp_path) == {"out": "mine"}


def test_no_folder_above(tmp_path: Path) -> None:
    with pytest.raises(OutputError, match=r"a does not exist\. Create it"):
        write(tmp_path / "a" / "b")


def test_a_null_character() -> None:
    with pytest.raises(OutputError, match="null character"):
        write(Path("a\0b"))


def test_no_permission(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Played, as the owner of a machine may write anywhere."""

    def refuse(self: Path, *_: object, **__: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "mkdir", refuse)
    with pytest.raises(OutputError, match="writing in this folder is not permitted"):
        write(tmp_path / "new")
    assert list(tmp_path.iterdir()) == []


def test_a_name_that_is_too_long(tmp_path: Path) -> None:
    with pytest.raises(OutputError, match="the file name is too long"):
        write(tmp_path / ("x" * 300))
    assert list(tmp_path.iterdir()) == []
