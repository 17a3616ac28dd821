"""Job files kept: comments stay, and what another program wrote is never written over."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from silhouette3d.errors import JobError, WorkbenchError
from silhouette3d.job.model import read_job
from silhouette3d.workbench import edits
from silhouette3d.workbench.document import OnDisk, stamp
from tests.support.workbench import JOB, kerf, write_job


def test_comments_and_layout_stay(tmp_path: Path) -> None:
    disk = OnDisk.of(write_job(tmp_path))
    disk.written(edits.nudge(disk.job(), 0, 0.5, 0.0))
    assert disk.path.read_text() == JOB.replace("[2.0, 0.0]", "[2.5, 0.0]")


def test_what_is_written_is_known(tmp_path: Path) -> None:
    disk = OnDisk.of(write_job(tmp_path))
    job = edits.set_value(disk.job(), ("profile", 1, "turn"), 90.0)
    after = disk.written(job)
    assert after == OnDisk.of(disk.path)
    assert after.job() == job
    assert after.is_same
    assert not disk.is_same
    assert after.written(disk.job()).path.read_text() == JOB


def test_line_ends_and_mark_of_windows_stay(tmp_path: Path) -> None:
    path = write_job(tmp_path, "\ufeff" + JOB.replace("\n", "\r\n"))
    disk = OnDisk.of(path)
    disk.written(kerf(disk.job(), 0.75))
    expected = "\ufeff" + JOB.replace("0.5\norder", "0.75\norder").replace("\n", "\r\n")
    assert path.read_bytes().decode() == expected


def test_a_file_changed_by_another_program_is_not_written_over(tmp_path: Path) -> None:
    disk = OnDisk.of(write_job(tmp_path))
    theirs = JOB.replace("Bollard", "Buoy")
    disk.path.write_text(theirs)
    with pytest.raises(WorkbenchError, match="another program"):
        disk.written(kerf(disk.job(), 0.75))
    assert disk.path.read_text() == theirs
    assert sorted(os.listdir(tmp_path)) == ["front.svg", "job.toml", "top.svg"]


def test_a_change_of_the_same_length_at_the_same_time_is_noticed(tmp_path: Path) -> None:
    """Content counts, not the clock."""
    disk = OnDisk.of(write_job(tmp_path))
    before = disk.path.stat()
    disk.path.write_text(JOB.replace("Bollard", "Capstan"))
    os.utime(disk.path, ns=(before.st_atime_ns, before.st_mtime_ns))
    assert not disk.is_same


def test_a_file_that_is_gone_is_written_again(tmp_path: Path) -> None:
    disk = OnDisk.of(write_job(tmp_path))
    disk.path.unlink()
    disk.written(kerf(disk.job(), 0.75))
    assert disk.path.read_text() == JOB.replace("0.5\norder", "0.75\norder")


def test_a_new_job_does_not_take_the_place_of_a_file_that_appeared(tmp_path: Path) -> None:
    job = read_job(write_job(tmp_path))
    new = OnDisk(tmp_path / "new.toml")
    new.path.write_text("mine = 1")
    with pytest.raises(WorkbenchError, match="another program"):
        new.written(job)
    assert new.path.read_text() == "mine = 1"


def test_beside_it_with_its_comments(tmp_path: Path) -> None:
    disk = OnDisk.of(write_job(tmp_path))
    job = kerf(disk.job(), 0.75)
    disk.path.write_text("no job any more")
    after = disk.written_beside(job, tmp_path / "job-2.toml")
    assert after.path.read_text() == JOB.replace("0.5\norder", "0.75\norder")
    assert disk.path.read_text() == "no job any more"
    assert after.job().declared == job.declared
    assert after.job().path == after.path


def test_beside_it_nothing_is_written_over(tmp_path: Path) -> None:
    disk = OnDisk.of(write_job(tmp_path))
    (tmp_path / "job-2.toml").write_text("mine")
    with pytest.raises(WorkbenchError):
        disk.written_beside(disk.job(), tmp_path / "job-2.toml")
    assert (tmp_path / "job-2.toml").read_text() == "mine"


def test_a_file_that_is_no_job_says_why(tmp_path: Path) -> None:
    path = write_job(tmp_path)
    for content, words in ((b"\xff", "UTF-8"), (b"name = ", "TOML"), (b"name = 1", "name")):
        path.write_bytes(content)
        with pytest.raises(JobError, match=words) as error:
            OnDisk.of(path).job()
        assert str(path) in str(error.value)
    path.unlink()
    with pytest.raises(JobError, match="no such job file"):
        OnDisk.of(path).job()


def test_a_job_larger_than_the_limit_is_not_read(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = write_job(tmp_path)
    monkeypatch.setenv("SILHOUETTE3D_JOB_MB", "1")
    path.write_text(JOB + "#" * 1024**2)
    with pytest.raises(JobError, match="more than 1 MB"):
        OnDisk.of(path).job()


def test_a_pipe_is_not_waited_for(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "job.toml")
    assert OnDisk.of(tmp_path / "job.toml").raw is None


def test_a_stamp_changes_with_the_file(tmp_path: Path) -> None:
    path = tmp_path / "a.svg"
    assert stamp(path) is None
    path.write_text("1")
    first = stamp(path)
    path.write_text("12")
    assert first != stamp(path)
    other = tmp_path / "b.svg"
    other.write_text("34")
    os.utime(other, ns=(path.stat().st_atime_ns, path.stat().st_mtime_ns))
    second = stamp(path)
    other.replace(path)  # same time, same size, another file
    assert second != stamp(path)
    assert stamp(Path("a\0b")) is None
