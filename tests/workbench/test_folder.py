"""Nothing outside the folder is read or written, whatever it is called."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from silhouette3d.errors import WorkbenchError
from silhouette3d.workbench import folder as rules
from silhouette3d.workbench.folder import Folder, check_name, check_size


@pytest.fixture
def home(tmp_path: Path) -> Path:
    """A folder with a neighbour that must stay as it is."""
    (tmp_path / "secret.svg").write_text("keep out")
    (tmp_path / "job-other").mkdir()
    (tmp_path / "job-other" / "a.svg").write_text("keep out")
    made = tmp_path / "job"
    made.mkdir()
    (made / "front.svg").write_text("<svg/>")
    (made / "sub").mkdir()
    (made / "sub" / "side.dxf").write_text("0")
    return made


OUTSIDE = [
    "../secret.svg",
    "sub/../../secret.svg",
    "./../job/../secret.svg",
    "../job-other/a.svg",
    "/etc/passwd",
    "//etc/passwd",
    "..",
    ".",
    "sub/..",
    "",
    " ",
    "a\0.svg",
    "a" * 5000 + ".svg",
    "x/" * 3000,
]


@pytest.mark.parametrize("name", OUTSIDE)
def test_what_lies_outside_is_refused(home: Path, name: str) -> None:
    with pytest.raises(WorkbenchError):
        Folder.at(home).inside(name)
    assert not Folder.at(home).holds(name)


def test_hidden_files_are_left_alone(home: Path) -> None:
    (home / ".ssh").mkdir()
    (home / ".ssh" / "key.svg").write_text("")
    (home / "link.svg").symlink_to(".ssh/key.svg")
    for name in (".ssh/key.svg", ".env", "link.svg", "sub/../.ssh/key.svg"):
        with pytest.raises(WorkbenchError, match="hidden"):
            Folder.at(home).inside(name)
    hidden = home / ".ssh"
    assert Folder.at(hidden).inside("key.svg") == hidden / "key.svg"


@pytest.mark.parametrize("name", ["front.svg", "sub/side.dxf", "sub/../front.svg", "new.svg"])
def test_what_lies_inside_is_found(home: Path, name: str) -> None:
    assert Folder.at(home).inside(name) == (home / name).resolve()


def test_links_are_followed_before_they_are_judged(home: Path) -> None:
    (home / "out.svg").symlink_to(home.parent / "secret.svg")
    (home / "away").symlink_to(home.parent / "job-other")
    (home / "dangling.svg").symlink_to(home.parent / "new.svg")
    (home / "round.svg").symlink_to("round.svg")
    (home / "in.svg").symlink_to("front.svg")
    folder = Folder.at(home)
    for name in ("out.svg", "away/a.svg", "dangling.svg"):
        assert not folder.holds(name)
    assert folder.inside("in.svg") == home / "front.svg"
    for name in ("out.svg", "dangling.svg", "round.svg"):
        with pytest.raises(WorkbenchError):
            folder.store(name, b"<svg/>", replace=True)
    assert (home.parent / "secret.svg").read_text() == "keep out"
    assert not (home.parent / "new.svg").exists()
    assert folder.drawings() == ["front.svg", "in.svg", "sub/side.dxf"]


def test_a_folder_that_is_reached_by_a_link_is_a_folder(home: Path) -> None:
    (home.parent / "link").symlink_to(home)
    folder = Folder.at(home.parent / "link")
    assert folder.root == home
    assert folder.inside("front.svg") == home / "front.svg"


@pytest.mark.parametrize("path", ["front.svg", "none", "a\0b"])
def test_only_a_folder_is_one(home: Path, path: str) -> None:
    with pytest.raises(WorkbenchError, match="no such folder"):
        Folder.at(home / path)


def test_lists_leave_out_what_is_hidden_or_something_else(home: Path) -> None:
    (home / ".draft.svg").write_text("")
    (home / ".git").mkdir()
    (home / ".git" / "x.svg").write_text("")
    (home / "job.toml").write_text("")
    (home / "NOTES.txt").write_text("")
    (home / "BIG.SVG").write_text("")
    folder = Folder.at(home)
    assert folder.drawings() == ["BIG.SVG", "front.svg", "sub/side.dxf"]
    assert folder.jobs() == ["job.toml"]


def test_a_long_list_is_cut(home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(rules, "MOST_LISTED", 2)
    assert Folder.at(home).drawings() == ["front.svg", "sub/side.dxf"]
    (home / "a.svg").write_text("")
    assert Folder.at(home).drawings() == ["a.svg", "front.svg"]


def test_what_is_handed_over_is_stored_whole(home: Path) -> None:
    folder = Folder.at(home)
    assert folder.store("deck plan ü.svg", b"\0\xff<svg/>") == "deck plan ü.svg"
    assert (home / "deck plan ü.svg").read_bytes() == b"\0\xff<svg/>"


def test_nothing_is_written_over_without_saying(home: Path) -> None:
    folder = Folder.at(home)
    with pytest.raises(WorkbenchError, match="already"):
        folder.store("front.svg", b"new")
    assert (home / "front.svg").read_text() == "<svg/>"
    folder.store("front.svg", b"new", replace=True)
    assert (home / "front.svg").read_text() == "new"


BAD_NAMES = [
    "../a.svg", "/a.svg", "sub/a.svg", "a\\b.svg", "C:a.svg", ".a.svg", "a\n.svg", "a\x7f.svg",
    "a\0.svg", "", " ", "..", ".", " a.svg", "a.svg ", "a.svg.", "x" * 250 + ".svg", "a?.svg",
    "ü" * 110 + ".svg",
]  # fmt: skip


@pytest.mark.parametrize("name", BAD_NAMES)
def test_names_that_are_not_safe_are_refused(home: Path, name: str) -> None:
    before = sorted(home.parent.rglob("*"))
    with pytest.raises(WorkbenchError):
        Folder.at(home).store(name, b"<svg/>", replace=True)
    assert sorted(home.parent.rglob("*")) == before


@pytest.mark.parametrize("name", ["a.py", "job.toml", "a.svg.exe", "svg", "a.png"])
def test_other_kinds_of_file_are_refused(home: Path, name: str) -> None:
    with pytest.raises(WorkbenchError, match=r"\.dxf, \.svg"):
        Folder.at(home).store(name, b"")


@given(name=st.text(max_size=30), suffix=st.sampled_from([".svg", ".dxf", ""]))
def test_no_name_leads_out(
    tmp_path_factory: pytest.TempPathFactory, name: str, suffix: str
) -> None:
    """Whatever it is: the folder gets a file of that very name, or nothing changes at all."""
    home = tmp_path_factory.mktemp("f") / "job"
    home.mkdir()
    try:
        Folder.at(home).store(name + suffix, b"x")
    except WorkbenchError:
        assert list(home.parent.rglob("*")) == [home]
    else:
        assert os.listdir(home) == [name + suffix]


def test_a_file_of_the_largest_size_is_taken_and_a_larger_one_is_not(
    home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(rules, "MOST_BYTES", 1000)
    check_size(1000, "a.svg")
    with pytest.raises(WorkbenchError, match="MB"):
        check_size(1001, "a.svg")
    with pytest.raises(WorkbenchError, match="MB"):
        Folder.at(home).store("a.svg", b"x" * 1001)
    assert not (home / "a.svg").exists()


def test_a_free_name_is_free(home: Path) -> None:
    folder = Folder.at(home)
    assert folder.free_name("job.toml") == "job.toml"
    (home / "job.toml").write_text("")
    (home / "job-2.toml").symlink_to("nowhere")
    assert folder.free_name("job.toml") == "job-3.toml"


def test_a_name_is_repeated_safely_in_the_message() -> None:
    with pytest.raises(WorkbenchError) as refused:
        check_name("a\x1b[31m" + "x" * 500)
    assert "\x1b" not in str(refused.value)
    assert len(str(refused.value)) < 300
