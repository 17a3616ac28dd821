"""Files that are no files, paths that lead elsewhere, and text that other programs write."""

from __future__ import annotations

import os
import shutil
import socket
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

import silhouette3d
from silhouette3d.base.files import read_bytes
from silhouette3d.errors import DrawingError, JobError
from tests.support.shapes import PLATE, write_job

Make = Callable[[Path], object]


@pytest.fixture
def job(tmp_path: Path) -> Path:
    """A plate and its drawing in a folder of their own."""
    folder = tmp_path / "plate"
    folder.mkdir()
    return write_job(folder, PLATE)


def renamed(job: Path, drawing: str) -> Path:
    """The job with its drawing elsewhere."""
    job.write_text(job.read_text("utf-8").replace('"top.dxf"', f"'{drawing}'"), "utf-8")
    assert f"'{drawing}'" in job.read_text("utf-8")
    return job


def volume(job: Path) -> float:
    return silhouette3d.load(job).solid.volume


# ---- what is no file -------------------------------------------------------------------


@pytest.fixture
def listening() -> Iterator[Make]:
    """Makes a socket that has a name."""
    made: list[socket.socket] = []

    def make(path: Path) -> None:
        one = socket.socket(socket.AF_UNIX)
        one.bind(os.path.relpath(path))  # such names have to be short
        made.append(one)

    yield make
    for one in made:
        one.close()


STRANGE: dict[str, Make] = {
    "pipe": os.mkfifo,
    "endless device": lambda path: path.symlink_to("/dev/zero"),
    "empty device": lambda path: path.symlink_to("/dev/null"),
    "terminal": lambda path: path.symlink_to("/dev/tty"),
    "folder": Path.mkdir,
    "circle": lambda path: path.symlink_to(path),
    "link to nothing": lambda path: path.symlink_to("nowhere"),
}


@pytest.mark.parametrize("kind", STRANGE)
@pytest.mark.parametrize("suffix", [".dxf", ".svg", ".SVG"])
def test_a_drawing_that_is_no_file(kind: str, suffix: str, job: Path) -> None:
    STRANGE[kind](job.parent / f"strange{suffix}")
    with pytest.raises(DrawingError) as caught:
        volume(renamed(job, f"strange{suffix}"))
    assert f"strange{suffix}" in caught.value.where
    assert caught.value.todo


@pytest.mark.parametrize("kind", STRANGE)
def test_a_job_that_is_no_file(kind: str, tmp_path: Path) -> None:
    STRANGE[kind](tmp_path / "strange.toml")
    with pytest.raises(JobError) as caught:
        silhouette3d.load(tmp_path / "strange.toml")
    assert "strange.toml" in caught.value.where
    assert caught.value.todo


def test_a_socket(listening: Make, job: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(job.parent)
    listening(job.parent / "strange.svg")
    with pytest.raises(DrawingError, match="this is a pipe, a device or a socket, not a file"):
        volume(renamed(job, "strange.svg"))


@pytest.mark.parametrize("drawing", ["/dev/zero", "/dev/stdin", "/dev/tty", "/proc/self/mem"])
def test_a_job_that_names_a_device(drawing: str, job: Path) -> None:
    with pytest.raises(DrawingError, match="are not read"):
        volume(renamed(job, drawing))


def test_a_file_that_becomes_a_pipe_between_look_and_open(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    real, path = os.stat(__file__), tmp_path / "tug.dxf"
    os.mkfifo(path)
    monkeypatch.setattr(os, "stat", lambda *_: real)
    with pytest.raises(OSError, match="not a file"):
        read_bytes(path, 10)


def test_no_more_is_read_than_asked_for(tmp_path: Path) -> None:
    (tmp_path / "tug.dxf").write_bytes(b"0123456789")
    assert read_bytes(tmp_path / "tug.dxf", 4) == b"0123"


# ---- paths ------------------------------------------------------------------------------


def test_drawings_may_lie_anywhere(job: Path, tmp_path: Path) -> None:
    elsewhere = tmp_path / "shared" / "plates"
    elsewhere.mkdir(parents=True)
    shutil.move(job.parent / "top.dxf", elsewhere / "a plate.dxf")
    text = job.read_text("utf-8")
    for drawing in ("../shared/plates/a plate.dxf", str(elsewhere / "a plate.dxf")):
        job.write_text(text, "utf-8")
        assert volume(renamed(job, drawing)) == pytest.approx(PLATE.volume)


def test_links_are_followed(job: Path, tmp_path: Path) -> None:
    (job.parent / "link.dxf").symlink_to(job.parent / "top.dxf")
    (tmp_path / "today.toml").symlink_to(job)
    assert volume(renamed(job, "link.dxf")) == pytest.approx(PLATE.volume)
    (tmp_path / "folder").symlink_to(job.parent)
    assert volume(tmp_path / "folder") == pytest.approx(PLATE.volume)


def test_nothing_is_written_through_a_job(job: Path, tmp_path: Path) -> None:
    """Names in a job lead out of its folder: what is written keeps to the folder asked for."""
    before = {p: p.read_bytes() for p in tmp_path.rglob("*") if p.is_file()}
    text = job.read_text("utf-8")
    name = "../../escaped/" + "x" * 40
    text = text.replace("[[profile]]", f"[[profile]]\nname = '{name}'", 1)
    text = text.replace(text.splitlines()[0], f"name = '{name}'", 1)
    job.write_text(text, "utf-8")
    before[job] = job.read_bytes()
    out = tmp_path / "out"
    part = silhouette3d.load(job)
    assert part.job.names == (name,)
    part.setups(out)
    part.export(tmp_path / "plate.3mf")
    part.export(tmp_path / "plate.obj")
    made = {p for p in tmp_path.rglob("*") if p.is_file()} - set(before)
    assert {p.parent for p in made} == {out, tmp_path}
    assert sorted(p.name for p in made if p.parent == tmp_path) == ["plate.3mf", "plate.obj"]
    assert {p: p.read_bytes() for p in before} == before


# ---- text as other programs write it --------------------------------------------------------


@pytest.mark.parametrize("mark", [b"", b"\xef\xbb\xbf"], ids=["plain", "byte order mark"])
@pytest.mark.parametrize("ending", [b"\n", b"\r\n"], ids=["LF", "CRLF"])
def test_line_ends_and_byte_order_marks(mark: bytes, ending: bytes, job: Path) -> None:
    for path in (job, job.parent / "top.dxf"):
        data = path.read_bytes().replace(b"\r\n", b"\n")
        path.write_bytes(mark + data.replace(b"\n", ending))
    assert volume(job) == pytest.approx(PLATE.volume)


def test_an_svg_with_a_byte_order_mark_and_crlf(job: Path) -> None:
    square = b'<svg xmlns="http://www.w3.org/2000/svg"\r\nwidth="60mm" height="40mm"\r\n'
    square += b'viewBox="0 0 60 40"><rect\r\nwidth="60" height="40"/></svg>\r\n'
    (job.parent / "top.svg").write_bytes(b"\xef\xbb\xbf" + square)
    assert volume(renamed(job, "top.svg")) == pytest.approx(PLATE.volume)


def test_a_job_that_is_not_utf_8(job: Path) -> None:
    job.write_bytes(job.read_bytes().replace(b"[stock]", b"# Gr\xf6\xdfe\n[stock]"))
    with pytest.raises(JobError, match=r"line \d+: the file is not UTF-8 text"):
        volume(job)
    job.write_text(job.read_text("latin-1"), "utf-16")
    with pytest.raises(JobError, match="line 1: the file is not UTF-8 text"):
        volume(job)


def test_layers_in_the_letters_of_an_old_dxf_file(job: Path) -> None:
    """Before R2007 the code page states them: $DWGCODEPAGE."""
    drawing = job.parent / "top.dxf"
    data = drawing.read_bytes()
    assert b"AC1015" in data or b"AC1009" in data or b"AC1024" in data
    old = data.replace(b"AC1024", b"AC1015").replace(b"OUTLINE", "HÜLLE".encode("cp1252"))
    drawing.write_bytes(old)
    assert silhouette3d.load(job).profiles[0].outline.loops[0].layer == "HÜLLE"
