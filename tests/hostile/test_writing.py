"""Whatever stops a file from being written, the old one is whole and nothing half-made lies about.

Every writer of the package is tried: `WRITERS` is compared with what `Part` can write.
"""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path
from types import FrameType

import pytest

import silhouette3d
from silhouette3d.base import files
from silhouette3d.documents import setup_drawings as folders
from silhouette3d.errors import OutputError
from silhouette3d.job.starter import write_starter
from silhouette3d.job.write import save_job
from silhouette3d.model.results import Results
from tests.support.shapes import PLATE, load

ROOT = Path(__file__).resolve().parents[2]
OLD = b"the tug of last week"

Write = Callable[[silhouette3d.Part, Path], object]

QUICK: dict[str, Write] = {
    "tug.stl": lambda part, path: part.export(path),
    "tug.3mf": lambda part, path: part.export(path),
    "tug.glb": lambda part, path: part.export(path),
    "tug.obj": lambda part, path: part.export(path),
    "tug.ply": lambda part, path: part.export(path),
    "tug.toml": lambda part, path: save_job(part.job, path),
}
"""By the name of the file, which must be replaced in one go."""

WRITERS: dict[str, Write] = QUICK | {
    "iso.png": lambda part, path: part.picture(path, "iso"),
    "sheet.jpg": lambda part, path: part.picture(path),
    "stages.png": lambda part, path: part.picture_stages(path),
    "thin.png": lambda part, path: part.picture_thin(path),
    "outline.png": lambda part, path: part.picture_outline("top", path),
    "sheets.pdf": lambda part, path: part.sheets(path),
    "page.html": lambda part, path: part.page(path),
}


@pytest.fixture(scope="module")
def part(tmp_path_factory: pytest.TempPathFactory) -> silhouette3d.Part:
    return load(tmp_path_factory.mktemp("plate"), PLATE)


@pytest.fixture
def home(tmp_path: Path) -> Path:
    """A folder with an old file for every writer, and an old drawing of a setup."""
    for name in [*WRITERS, "1 top.dxf"]:
        (tmp_path / name).write_bytes(OLD)
    return tmp_path


def contents(home: Path) -> dict[str, bytes]:
    return {p.relative_to(home).as_posix(): p.read_bytes() for p in home.rglob("*") if p.is_file()}


def names_of_setups(part: silhouette3d.Part, folder: Path) -> list[str]:
    return sorted(path.name for path in part.setups(folder))


def test_every_writer_is_here() -> None:
    tried = {"export", "picture", "picture_outline", "picture_stages", "picture_thin"}
    tried |= {"page", "setups", "sheets"}
    members = vars(silhouette3d.Part)
    own = {n for n in members if not n.startswith("_") and not hasattr(Results, n)}
    others = {"from_outlines", "job", "say", "progress", "show"}  # these write nothing
    assert own == tried | others


# ---- the disk ---------------------------------------------------------------------------------

FULL = """
import resource, signal, sys
from pathlib import Path
import silhouette3d
from silhouette3d.errors import OutputError
from tests.hostile.test_writing import WRITERS
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
job, home, names = sys.argv[1], Path(sys.argv[2]), sys.argv[3:]
part = silhouette3d.load(job)
_ = part.findings
usual = resource.getrlimit(resource.RLIMIT_FSIZE)
for name in names:
    resource.setrlimit(resource.RLIMIT_FSIZE, (100, usual[1]))
    try:
        WRITERS[name](part, home / name)
        told = "no error"
    except OutputError as error:
        told = str(error)
    resource.setrlimit(resource.RLIMIT_FSIZE, usual)
    sys.stdout.write(f"{name}\\t{told}\\n")
"""


def filled(part: silhouette3d.Part, home: Path, names: list[str]) -> dict[str, str]:
    """What each writer says in a process that may write 100 bytes to a file."""
    done = subprocess.run(
        [sys.executable, "-c", FULL, str(part.job.path), str(home), *names],
        cwd=ROOT,
        capture_output=True,
        encoding="utf-8",
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return dict(line.split("\t", 1) for line in done.stdout.splitlines())


def assert_refused(part: silhouette3d.Part, home: Path, names: list[str]) -> None:
    before = contents(home)
    told = filled(part, home, names)
    assert list(told) == names
    for name, words in told.items():
        assert "cannot be written: the file would be larger than this system allows" in words, name
    assert contents(home) == before


def test_a_disk_that_is_full(part: silhouette3d.Part, home: Path) -> None:
    assert_refused(part, home, [*QUICK, "outline.png"])


@pytest.mark.big
def test_a_disk_that_is_full_for_every_writer(part: silhouette3d.Part, home: Path) -> None:
    assert_refused(part, home, list(WRITERS))


@pytest.fixture
def nobodys() -> Iterator[silhouette3d.Part]:
    """A part in a folder in which this process may read but not write, with old files in it."""
    with tempfile.TemporaryDirectory() as folder:
        home = Path(folder)
        part = load(home, PLATE)
        part.setups(home / "before")  # loads what is loaded when first needed
        for name, write in QUICK.items():
            write(part, home / name)
            (home / name).write_bytes(OLD)
        home.chmod(0o555)
        is_root = os.geteuid() == 0
        if is_root:  # whom no permission stops
            os.seteuid(65534)
        try:
            yield part
        finally:
            if is_root:
                os.seteuid(0)
            home.chmod(0o755)


@pytest.mark.parametrize("name", [*QUICK, "new.stl"])
def test_a_folder_that_is_read_only(nobodys: silhouette3d.Part, name: str) -> None:
    write, home = QUICK.get(name, QUICK["tug.stl"]), nobodys.job.folder
    before = contents(home)
    with pytest.raises(OutputError, match="writing in this folder is not permitted"):
        write(nobodys, home / name)
    assert contents(home) == before


def test_a_read_only_folder_for_setups_and_a_new_job(nobodys: silhouette3d.Part) -> None:
    home = nobodys.job.folder
    before = contents(home)
    for folder in (home, home / "setups"):
        with pytest.raises(OutputError, match="not permitted"):
            nobodys.setups(folder)
    with pytest.raises(OutputError):
        write_starter(home / "bollard")
    assert contents(home) == before


# ---- somebody stops it -----------------------------------------------------------------------


class Stopper:
    """Presses Ctrl-C at the k-th event inside the modules that write files."""

    def __init__(self, at: int) -> None:
        self.left = at

    def __call__(self, frame: FrameType, event: str, arg: object) -> Stopper | None:
        name = frame.f_code.co_filename
        if name not in (files.__file__, folders.__file__):
            return None
        # what tidies up is left alone: a second Ctrl-C there may leave a draft, never harm a file
        if event == "line":
            self.left -= 1
            if self.left == 0:
                raise KeyboardInterrupt
        return self


def stopped(at: int, write: Callable[[], object]) -> bool:
    """Whether writing was stopped at the k-th line, and not over before."""
    before, stopper = sys.gettrace(), Stopper(at)
    sys.settrace(stopper)
    try:
        write()
    except KeyboardInterrupt:
        return True
    finally:
        sys.settrace(before)
    return False


@pytest.mark.parametrize("name", ["tug.stl", "tug.toml"])
def test_ctrl_c_at_any_line(part: silhouette3d.Part, home: Path, name: str) -> None:
    QUICK[name](part, home / name)
    new = (home / name).read_bytes()
    for at in range(1, 500):
        (home / name).write_bytes(OLD)
        if not stopped(at, lambda: QUICK[name](part, home / name)):
            break
        assert (home / name).read_bytes() in (OLD, new)
        for draft in home.glob(".*"):
            draft.unlink()  # of a stop while tidying up
    assert 20 < at < 400
    assert (home / name).read_bytes() == new


@pytest.mark.parametrize("is_new", [True, False])
def test_ctrl_c_at_any_line_of_setups(
    part: silhouette3d.Part, tmp_path: Path, is_new: bool
) -> None:
    (name,) = names_of_setups(part, tmp_path / "model")
    target = tmp_path / "setups"
    for at in range(1, 700):
        if is_new and target.exists():
            shutil.rmtree(target)
        if not is_new:
            target.mkdir(exist_ok=True)
            (target / name).write_bytes(OLD)
            (target / "notes.txt").write_bytes(OLD)
        if not stopped(at, lambda: part.setups(target)):
            break
        if is_new:
            assert not target.exists() or (target / name).stat().st_size > len(OLD)
        else:
            data = (target / name).read_bytes()
            assert data == OLD or data.rstrip().endswith(b"EOF")
            assert (target / "notes.txt").read_bytes() == OLD
    assert 10 < at < 600
    assert (target / name).read_bytes().rstrip().endswith(b"EOF")


@pytest.mark.parametrize("name", [*QUICK, "outline.png", "iso.png"])
def test_ctrl_c_before_the_file_takes_its_name(
    part: silhouette3d.Part, home: Path, name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = contents(home)

    def press(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(os, "replace", press)
    with pytest.raises(KeyboardInterrupt):
        WRITERS[name](part, home / name)
    assert contents(home) == before


KILL = """
import os, signal, sys
import silhouette3d
part = silhouette3d.load(sys.argv[1])
def die(*_):
    os.kill(os.getpid(), signal.SIGKILL)
setattr(os, sys.argv[3], die)
part.export(sys.argv[2])
"""


@pytest.mark.parametrize("step", ["fsync", "replace"])
def test_kill_9_while_it_writes(part: silhouette3d.Part, home: Path, step: str) -> None:
    done = subprocess.run(
        [sys.executable, "-c", KILL, str(part.job.path), str(home / "tug.stl"), step],
        cwd=ROOT,
        check=False,
    )
    assert done.returncode == -signal.SIGKILL
    assert (home / "tug.stl").read_bytes() == OLD
    (draft,) = home.glob(".*.stl")  # nobody was left to remove it; its name begins with a dot
    assert draft.stat().st_size > len(OLD)


IMPORTING = """
import signal, sys
LIBRARY = sys.argv.pop(1)
signal.signal(signal.SIGINT, signal.default_int_handler)
class Press:
    def find_spec(self, name, *_):
        if name == LIBRARY:
            signal.raise_signal(signal.SIGINT)
sys.meta_path.insert(0, Press())
from silhouette3d.__main__ import main
sys.exit(main())
"""


@pytest.mark.parametrize("library", ["cyclopts", "silhouette3d.model.results", "manifold3d"])
def test_ctrl_c_while_libraries_load(part: silhouette3d.Part, home: Path, library: str) -> None:
    before = contents(home)
    done = subprocess.run(
        [sys.executable, "-c", IMPORTING, library, "export", str(part.job.path), "tug.stl"],
        cwd=home,
        env=os.environ | {"PYTHONPATH": str(ROOT)},
        capture_output=True,
        encoding="utf-8",
        check=False,
    )
    assert (done.returncode, done.stdout, done.stderr) == (130, "", "silhouette3d: stopped\n")
    assert contents(home) == before
