"""Files appear complete or stay as they were."""

from __future__ import annotations

import errno
import os
import stat
import subprocess
import sys
from pathlib import Path

import pytest

from silhouette3d.base.files import atomic_write
from silhouette3d.errors import OutputError

OLD = b"the tug of last week"
NEW = b"the tug of today"


@pytest.fixture
def target(tmp_path: Path) -> Path:
    """A file that is already there, alone in its folder."""
    path = tmp_path / "tug.stl"
    path.write_bytes(OLD)
    return path


def write(path: Path, error: BaseException | None = None) -> None:
    """Write the new content, and fail after it when there is an error to raise."""
    with atomic_write(path) as draft:
        draft.write_bytes(NEW)
        if error:
            raise error


def mode(path: Path) -> int:
    return stat.S_IMODE(path.stat().st_mode)


def names(folder: Path) -> list[str]:
    return sorted(os.listdir(folder))


def refusal(code: int) -> OSError:
    return OSError(code, os.strerror(code))


def test_a_new_file(tmp_path: Path) -> None:
    write(tmp_path / "tug.stl")
    assert (tmp_path / "tug.stl").read_bytes() == NEW
    assert names(tmp_path) == ["tug.stl"]


def test_an_existing_file_is_replaced_at_the_end_only(target: Path) -> None:
    with atomic_write(target) as draft:
        assert draft.parent == target.parent
        assert draft.suffix == target.suffix
        assert draft.read_bytes() == b""
        draft.write_bytes(NEW)
        assert target.read_bytes() == OLD
    assert target.read_bytes() == NEW
    assert names(target.parent) == ["tug.stl"]


def test_a_name_in_the_current_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    with atomic_write("tug.stl") as draft:
        draft.write_bytes(NEW)
    assert (tmp_path / "tug.stl").read_bytes() == NEW


@pytest.mark.parametrize("mask", [0o022, 0o077])
def test_a_new_file_has_the_permissions_the_umask_leaves(tmp_path: Path, mask: int) -> None:
    before = os.umask(mask)
    try:
        write(tmp_path / "tug.stl")
    finally:
        os.umask(before)
    assert mode(tmp_path / "tug.stl") == 0o666 & ~mask


@pytest.mark.parametrize("bits", [0o600, 0o640, 0o666, 0o755])
def test_a_replaced_file_keeps_its_permissions(target: Path, bits: int) -> None:
    target.chmod(bits)
    write(target)
    assert mode(target) == bits


def test_a_link_stays_a_link(target: Path, tmp_path: Path) -> None:
    link = tmp_path / "elsewhere" / "latest.stl"
    link.parent.mkdir()
    link.symlink_to(target)
    write(link)
    assert link.is_symlink()
    assert target.read_bytes() == NEW
    assert names(link.parent) == ["latest.stl"]


def test_bytes_reach_the_disk_before_the_name(
    target: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    steps: list[str] = []
    fsync, replace = os.fsync, os.replace

    def noted_fsync(handle: int) -> None:
        steps.append(f"fsync {os.fstat(handle).st_size}")
        fsync(handle)

    def noted_replace(one: Path, other: Path) -> None:
        steps.append("replace")
        replace(one, other)

    monkeypatch.setattr(os, "fsync", noted_fsync)
    monkeypatch.setattr(os, "replace", noted_replace)
    write(target)
    assert steps == [f"fsync {len(NEW)}", "replace"]


@pytest.mark.parametrize("error", [RuntimeError("no"), KeyboardInterrupt(), ValueError("no")])
def test_other_errors_pass_and_leave_the_file(target: Path, error: BaseException) -> None:
    with pytest.raises(type(error)) as caught:
        write(target, error)
    assert caught.value is error
    assert target.read_bytes() == OLD
    assert names(target.parent) == ["tug.stl"]


@pytest.mark.parametrize(
    ("code", "words"),
    [
        (errno.ENOSPC, "the disk is full"),
        (errno.EDQUOT, "quota"),
        (errno.EROFS, "read-only"),
        (errno.EACCES, "not permitted"),
        (errno.EIO, os.strerror(errno.EIO)),
    ],
)
@pytest.mark.parametrize("step", ["open", "write", "fsync", "replace"])
def test_a_refusal_at_any_step_leaves_the_file(
    target: Path, monkeypatch: pytest.MonkeyPatch, step: str, code: int, words: str
) -> None:
    def refuse(*_args: object, **_options: object) -> None:
        raise refusal(code)

    if step != "write":
        monkeypatch.setattr(os, step, refuse)
    with pytest.raises(OutputError, match=words) as caught:
        write(target, refusal(code) if step == "write" else None)
    monkeypatch.undo()
    assert caught.value.where == str(target)
    assert caught.value.todo
    assert target.read_bytes() == OLD
    assert names(target.parent) == ["tug.stl"]


def test_a_refusal_without_a_number_is_told_in_its_own_words(target: Path) -> None:
    with pytest.raises(OutputError, match="the crane took the disk"):
        write(target, OSError("the crane took the disk"))


FILL = """
import resource, sys
from silhouette3d.errors import OutputError
from silhouette3d.base.files import atomic_write
resource.setrlimit(resource.RLIMIT_FSIZE, (1000, 1000))
try:
    with atomic_write(sys.argv[1]) as draft:
        draft.write_bytes(bytes(5000))
except OutputError as error:
    sys.stdout.write(str(error))
"""


def test_a_real_limit_of_the_system(target: Path) -> None:
    """A process that may write 1000 bytes tries 5000."""
    done = subprocess.run(
        [sys.executable, "-c", FILL, str(target)],
        capture_output=True,
        text=True,
        check=True,
        cwd=Path(__file__).parents[2],
    )
    assert "larger than this system allows" in done.stdout
    assert target.read_bytes() == OLD
    assert names(target.parent) == ["tug.stl"]


def test_the_folder_is_missing(tmp_path: Path) -> None:
    with pytest.raises(OutputError, match="harbour does not exist") as caught:
        write(tmp_path / "harbour" / "tug.stl")
    assert "create it" in caught.value.todo
    assert names(tmp_path) == []


def test_the_folder_is_a_file(target: Path) -> None:
    with pytest.raises(OutputError, match="is not a folder"):
        write(target / "tug.stl")
    assert target.read_bytes() == OLD


def test_the_target_is_a_folder(tmp_path: Path) -> None:
    (tmp_path / "tug.stl").mkdir()
    with pytest.raises(OutputError, match="this is a folder"):
        write(tmp_path / "tug.stl")
    assert names(tmp_path) == ["tug.stl"]


def test_the_target_is_not_a_file(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "tug.stl")
    with pytest.raises(OutputError, match="this is not a file"):
        write(tmp_path / "tug.stl")
    assert names(tmp_path) == ["tug.stl"]


def test_the_target_is_write_protected(target: Path) -> None:
    target.chmod(0o444)
    with pytest.raises(OutputError, match="write-protected"):
        write(target)
    assert target.read_bytes() == OLD


def test_the_name_is_too_long(tmp_path: Path) -> None:
    with pytest.raises(OutputError, match="name is too long"):
        write(tmp_path / ("t" * 300 + ".stl"))
    assert names(tmp_path) == []


def test_the_name_holds_a_null_character(tmp_path: Path) -> None:
    with pytest.raises(OutputError, match="null character"):
        write(tmp_path / "tug\0.stl")


def test_the_longest_name_is_not_too_long(tmp_path: Path) -> None:
    """255 bytes, the limit of most file systems: the draft's own name must not go past it."""
    path = tmp_path / ("t" * 251 + ".stl")
    write(path)
    assert path.read_bytes() == NEW
