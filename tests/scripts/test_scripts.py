"""The scripts on machines that lack something, played by stand-ins for the programs they call.

Each test runs the real scripts, copied into a checkout of their own, with a PATH that holds
the stand-ins and nothing else.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tomllib
from dataclasses import dataclass
from pathlib import Path

import pytest

import oldest
from tests.support.browser import NAMES, REQUIRED

ROOT = Path(__file__).resolve().parents[2]
PLAIN_TOOLS = ("bash", "cat", "cksum", "dirname", "env", "mkdir", "rm", "wc")

# A Python that runs what -c gives it, as if it were of another release or lacked ensurepip.
PRETENDER = """\
import os, sys
if os.path.exists({blocker!r}):
    sys.modules["ensurepip"] = None
sys.version_info = {release!r} + (0, "final", 0)
if sys.argv[1] == "-c":
    exec(sys.argv[2])
elif sys.argv[1] == "--version":
    print("Python of a stand-in")
"""

# A Python of the virtual environment: it notes its arguments, fails where told to.
ENVIRONMENT = """\
#!{bash}
printf '%s\\n' "$*" >>"{log}"
printf '%s\\n' "$@" >"{box}/last"
case "$*" in -m*) pwd -P >>"{box}/folders" ;; esac
case "$*" in
    *"import pip, sys"*) exit 0 ;;
    *pyvista*) [ -e "{box}/draws" ] ;;
    *) read -r bad <"{box}/fails" && case "$*" in *"$bad"*) echo "its own words" >&2; exit 1 ;; esac
       exit 0 ;;
esac
"""


@dataclass(frozen=True)
class Checkout:
    """A checkout with the scripts in it, on a machine made of stand-ins."""

    root: Path
    box: Path

    @property
    def bin(self) -> Path:
        return self.box / "bin"

    @property
    def calls(self) -> list[str]:
        """What the virtual environment's programs and apt-get were called with."""
        log = self.box / "log"
        return log.read_text().splitlines() if log.exists() else []

    @property
    def stamps(self) -> set[str]:
        return {path.name for path in (self.root / ".venv").glob("installed-*")}

    def program(self, path: Path, text: str) -> None:
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text)
        path.chmod(0o755)

    def shell(self, name: str, text: str) -> None:
        self.program(self.bin / name, f"#!{self.bin}/bash\n{text}\n")

    def python(self, name: str, release: tuple[int, int], *, ensurepip: bool = True) -> None:
        blocker = self.box / f"{name}-lacks-ensurepip"
        if not ensurepip:
            blocker.touch()
        code = self.box / f"{name}.py"
        code.write_text(PRETENDER.format(blocker=str(blocker), release=release))
        self.shell(name, f'exec "{sys.executable}" "{code}" "$@"')

    def user(self, number: int, apt: str = "exit 100") -> None:
        self.shell("id", f"echo {number}")
        self.shell("apt-get", f'echo "apt-get $*" >>"{self.box}/log"\n{apt}')

    def environment(self) -> None:
        """A virtual environment that works, with nothing installed in it yet."""
        text = ENVIRONMENT.format(bash=self.bin / "bash", box=self.box, log=self.box / "log")
        self.program(self.root / ".venv/bin/python", text)

    def fails(self, words: str = "nothing at all") -> None:
        (self.box / "fails").write_text(f"{words}\n")

    def run(self, command: str) -> subprocess.CompletedProcess[str]:
        """Run a command from a folder that is not the checkout."""
        return subprocess.run(
            [self.bin / "bash", "-euc", command],
            cwd=self.box,
            env={"PATH": str(self.bin), "LC_ALL": "C.UTF-8"},
            capture_output=True,
            encoding="utf-8",
            check=False,
        )

    def setup(self, command: str) -> subprocess.CompletedProcess[str]:
        return self.run(f'. "{self.root}/scripts/_setup.sh"; {command}')


@pytest.fixture
def checkout(tmp_path: Path) -> Checkout:
    made = Checkout(tmp_path / "a check out", tmp_path / "box")
    (made.root / "scripts").mkdir(parents=True)
    made.bin.mkdir(parents=True)
    for name in ("_setup.sh", "demo", "test"):
        shutil.copy(ROOT / "scripts" / name, made.root / "scripts")
    (made.root / "pyproject.toml").write_text("[project]\n")
    for tool in PLAIN_TOOLS:
        where = shutil.which(tool)
        assert where, tool
        (made.bin / tool).symlink_to(where)
    made.fails()
    (made.box / "draws").touch()
    made.user(1000)
    return made


class TestFindingPython:
    COMMAND = 'find_python; echo "found $python"'

    def test_newest_is_taken(self, checkout: Checkout) -> None:
        checkout.python("python3.11", (3, 11))
        checkout.python("python3.13", (3, 13))
        checkout.python("python3", (3, 11))
        assert "found python3.13\n" in checkout.setup(self.COMMAND).stdout

    def test_plain_name_is_taken(self, checkout: Checkout) -> None:
        checkout.python("python3", (3, 15))
        assert "found python3\n" in checkout.setup(self.COMMAND).stdout

    def test_one_without_venv_gives_way(self, checkout: Checkout) -> None:
        checkout.python("python3.13", (3, 13), ensurepip=False)
        checkout.python("python3.12", (3, 12))
        assert "found python3.12\n" in checkout.setup(self.COMMAND).stdout
        assert checkout.calls == []

    @pytest.mark.parametrize("old", [False, True])
    def test_none_is_explained(self, checkout: Checkout, old: bool) -> None:
        if old:
            checkout.python("python3", (3, 10))
        done = checkout.setup(self.COMMAND)
        assert done.returncode == 1
        assert "no Python 3.11 or later" in done.stderr
        assert "apt-get install python3 python3-venv" in done.stderr
        assert "found" not in done.stdout

    def test_missing_venv_is_explained(self, checkout: Checkout) -> None:
        checkout.python("python3", (3, 12), ensurepip=False)
        done = checkout.setup(self.COMMAND)
        assert done.returncode == 1
        assert "sudo apt-get install python3.12-venv" in done.stderr
        assert checkout.calls == []

    def test_root_installs_missing_venv(self, checkout: Checkout) -> None:
        checkout.python("python3", (3, 12), ensurepip=False)
        gained = checkout.box / "python3-lacks-ensurepip"
        checkout.user(0, apt=f'case "$*" in *python3.12-venv) rm "{gained}" ;; esac')
        assert "found python3\n" in checkout.setup(self.COMMAND).stdout

    def test_root_without_the_package_is_told(self, checkout: Checkout) -> None:
        checkout.python("python3", (3, 12), ensurepip=False)
        checkout.user(0, apt="exit 100")
        done = checkout.setup(self.COMMAND)
        assert done.returncode == 1
        assert checkout.calls != []
        assert "python3.12-venv" in done.stderr


class TestInstalling:
    def pips(self, checkout: Checkout) -> list[str]:
        return [call for call in checkout.calls if "-m pip" in call]

    def test_once(self, checkout: Checkout) -> None:
        checkout.environment()
        for _ in range(2):
            assert checkout.setup("set_up dev").returncode == 0
        assert self.pips(checkout) == ["-m pip install --quiet --editable .[dev]"]

    def test_again_when_the_project_changed(self, checkout: Checkout) -> None:
        checkout.environment()
        checkout.setup("set_up run")
        (checkout.root / "pyproject.toml").write_text("[project]\nname = 'x'\n")
        checkout.setup("set_up run")
        assert self.pips(checkout) == ["-m pip install --quiet --editable .[all]"] * 2

    def test_again_when_the_folder_moved(self, checkout: Checkout) -> None:
        checkout.environment()
        checkout.setup("set_up run")
        moved = Checkout(checkout.root.rename(checkout.box / "elsewhere"), checkout.box)
        moved.setup("set_up run")
        assert len(self.pips(moved)) == 2

    def test_what_the_tests_need_is_enough_for_the_demo(self, checkout: Checkout) -> None:
        checkout.environment()
        checkout.setup("set_up dev")
        checkout.setup("set_up run")
        assert len(self.pips(checkout)) == 1

    def test_what_the_demo_needs_is_not_enough_for_the_tests(self, checkout: Checkout) -> None:
        checkout.environment()
        checkout.setup("set_up run")
        checkout.setup("set_up dev")
        assert len(self.pips(checkout)) == 2

    def test_no_network_is_explained(self, checkout: Checkout) -> None:
        checkout.environment()
        checkout.fails("-m pip")
        done = checkout.setup("set_up run")
        assert done.returncode == 1
        assert "its own words\n" in done.stderr
        assert "no network" in done.stderr
        assert checkout.stamps == set()
        checkout.fails()
        assert checkout.setup("set_up run").returncode == 0
        assert checkout.stamps == {"installed-run"}


class TestDrawing:
    def test_tried_once(self, checkout: Checkout) -> None:
        checkout.environment()
        checkout.setup("set_up run")
        checkout.setup("set_up run")
        assert sum("import pyvista" in call for call in checkout.calls) == 1

    def test_missing_libraries_are_explained(self, checkout: Checkout) -> None:
        checkout.environment()
        (checkout.box / "draws").unlink()
        done = checkout.setup("set_up run")
        assert done.returncode == 1
        assert "sudo apt-get install libegl1 libgl1" in done.stderr
        assert [call for call in checkout.calls if "apt-get" in call] == []

    def test_root_installs_them(self, checkout: Checkout) -> None:
        checkout.environment()
        (checkout.box / "draws").unlink()
        checkout.user(0, apt=f'case "$*" in *libgl1) : >"{checkout.box}/draws" ;; esac')
        assert checkout.setup("set_up run").returncode == 0

    def test_libraries_that_do_not_help_are_explained(self, checkout: Checkout) -> None:
        checkout.environment()
        (checkout.box / "draws").unlink()
        checkout.user(0, apt="exit 0")
        done = checkout.setup("set_up run")
        assert done.returncode == 1
        assert "libegl1" in done.stderr


class TestBrowser:
    @pytest.mark.parametrize("name", ["chromium", "chromium-browser", "google-chrome"])
    def test_one_that_is_there_is_taken(self, checkout: Checkout, name: str) -> None:
        checkout.environment()
        checkout.user(0)
        checkout.shell(name, "exit 1")
        done = checkout.setup("set_up dev")
        assert done.returncode == 0
        assert "Chromium" not in done.stdout
        assert [call for call in checkout.calls if "apt-get" in call] == []

    def test_root_installs_one(self, checkout: Checkout) -> None:
        checkout.environment()
        link = f"import os; os.symlink({str(checkout.bin / 'bash')!r}, 'chromium')"
        gained = f'cd "{checkout.bin}" && "{sys.executable}" -c "{link}"'
        checkout.user(0, apt=f'case "$*" in *install*chromium) {gained} ;; esac')
        done = checkout.setup("set_up dev")
        assert done.returncode == 0
        assert "no Chromium" not in done.stdout

    @pytest.mark.parametrize(("user", "apt"), [(1000, "exit 100"), (0, "exit 100"), (0, "exit 0")])
    def test_without_one_it_goes_on_and_says_so(
        self, checkout: Checkout, user: int, apt: str
    ) -> None:
        checkout.environment()
        checkout.user(user, apt)
        done = checkout.setup("set_up dev; echo went on")
        assert done.returncode == 0
        assert "no Chromium here: tests that need a browser are skipped" in done.stdout
        assert "apt-get install chromium" in done.stdout
        assert done.stdout.endswith("went on\n")

    def test_the_demo_needs_none(self, checkout: Checkout) -> None:
        checkout.environment()
        assert "Chromium" not in checkout.setup("set_up run").stdout


class TestDemo:
    def demo(self, checkout: Checkout, check: int, picture: int = 0) -> tuple[int, str, str]:
        """Run the demo with a command line that ends as told and writes what it is asked to."""
        checkout.environment()
        tool = f"""#!{checkout.bin}/bash
case $1 in
    check) exit {check} ;;
    picture) [ {picture} -eq 0 ] || exit {picture} ;;
esac
for word; do
    case $word in
        out/*-setups) mkdir "$word" && echo "$*" >"$word/01-front.dxf" ;;
        out/*) echo "$*" >"$word" ;;
    esac
done
"""
        checkout.program(checkout.root / ".venv/bin/silhouette3d", tool)
        done = checkout.run(f'"{checkout.root}/scripts/demo"')
        return done.returncode, done.stdout, done.stderr

    @property
    def files(self) -> set[str]:
        ends = (".png", "-stages.png", ".stl", ".3mf", "-sheets.pdf", ".html")
        return {f"tugboat{end}" for end in (*ends, "-setups")}

    @pytest.mark.parametrize("check", [0, 1])
    def test_makes_the_files(self, checkout: Checkout, check: int) -> None:
        code, out, _ = self.demo(checkout, check)
        assert code == 0
        assert {path.name for path in (checkout.root / "out").iterdir()} == self.files
        assert all(f"out/{name}" in out.partition("Made in")[2] for name in self.files)
        assert "out/tugboat-setups/01-front.dxf" in out.partition("Made in")[2]
        assert ("in spite of the findings" in out) == (check == 1)

    def test_stops_at_a_job_that_cannot_be_read(self, checkout: Checkout) -> None:
        code, out, _ = self.demo(checkout, check=2)
        assert code == 2
        assert "Made in" not in out

    def test_leaves_no_old_file_to_be_taken_for_new(self, checkout: Checkout) -> None:
        self.demo(checkout, check=0)
        code, _, _ = self.demo(checkout, check=0, picture=3)
        assert code == 3
        assert list((checkout.root / "out").iterdir()) == []

    def test_takes_no_arguments(self, checkout: Checkout) -> None:
        done = checkout.run(f'"{checkout.root}/scripts/demo" job.toml')
        assert done.returncode == 1
        assert "silhouette3d --help" in done.stderr


class TestTest:
    STEPS = ("ruff format --check", "ruff check", "mypy", "pytest -n 2")

    def test_runs_every_step_and_passes_arguments_on(self, checkout: Checkout) -> None:
        checkout.environment()
        done = checkout.run(f'"{checkout.root}/scripts/test" --all -k "two words"')
        assert done.returncode == 0, done.stderr
        ran = [call.removeprefix("-m ") for call in checkout.calls if call.startswith("-m ")]
        assert ran[-4:-1] == list(self.STEPS[:3])
        last = (checkout.box / "last").read_text().splitlines()
        assert last == ["-m", *self.STEPS[3].split(), "--all", "-k", "two words"]

    def test_everything_runs_in_the_checkout(self, checkout: Checkout) -> None:
        checkout.environment()
        checkout.run(f'"{checkout.root}/scripts/test"')
        folders = (checkout.box / "folders").read_text().splitlines()
        assert len(folders) == 1 + len(self.STEPS)  # pip, then the steps
        assert set(folders) == {str(checkout.root.resolve())}

    @pytest.mark.parametrize("bad", ["nothing", "scripts.oldest"])
    def test_the_oldest_releases_are_tried_where_asked_for(
        self, checkout: Checkout, bad: str
    ) -> None:
        checkout.environment()
        checkout.fails(f"-m {bad}")
        done = checkout.run(f'OLDEST_RELEASES=required "{checkout.root}/scripts/test" -k word')
        assert done.returncode == (bad == "scripts.oldest")
        assert checkout.calls[-1] == "-m scripts.oldest"

    @pytest.mark.parametrize("bad", STEPS)
    def test_a_failing_step_fails_the_whole(self, checkout: Checkout, bad: str) -> None:
        checkout.environment()
        checkout.fails(f"-m {bad}")
        done = checkout.run(f'"{checkout.root}/scripts/test"')
        assert done.returncode == 1
        assert f"Failed: {bad}." in done.stderr
        assert "-m pytest -n 2" in checkout.calls


def test_children_see_a_path_where_the_environment_is_empty() -> None:
    """Python cannot tell where it lies, and so makes no environment, without a PATH."""
    bash = shutil.which("bash")
    assert bash
    command = f'. "{ROOT}/scripts/_setup.sh"; exec env'
    done = subprocess.run(
        [bash, "-c", command], env={}, capture_output=True, encoding="utf-8", check=True
    )
    assert any(line.startswith("PATH=/") for line in done.stdout.splitlines())


def test_scripts_may_be_run() -> None:
    for name in ("scripts/demo", "scripts/test", ".ci/run"):
        assert os.access(ROOT / name, os.X_OK), name


def test_ci_calls_the_tests_and_nothing_else() -> None:
    lines = (ROOT / ".ci/run").read_text().splitlines()
    assert lines[0].startswith("#!")
    assert [line for line in lines[1:] if line.strip() and not line.startswith("#")] == [
        f"export {REQUIRED}=required",
        "export OLDEST_RELEASES=required",
        'exec bash "$(dirname "${BASH_SOURCE[0]}")/../scripts/test"',
    ]


def test_the_oldest_releases_are_those_of_the_project() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    pinned = oldest.floors(project)
    assert [line for line in pinned if "==" not in line] == ["pydantic-core"]
    lines = project["dependencies"] + [
        line for extra in oldest.EXTRAS for line in project["optional-dependencies"][extra]
    ]
    assert {line.replace("==", ">=") for line in pinned} == {x for x in lines if "[" not in x}
    assert len(oldest.tools(project)) == len(oldest.TOOLS)
    assert [test for test in oldest.TESTS if not (ROOT / test).is_file()] == []


def test_scripts_and_tests_look_for_the_same_browsers() -> None:
    listed = f"for name in {' '.join(NAMES)}; do"
    assert listed in (ROOT / "scripts/_setup.sh").read_text()
