"""The command `open`: its address, its end, and what it says when it cannot."""

from __future__ import annotations

import signal
import subprocess
import sys
from pathlib import Path

import pytest

from tests.support.workbench_running import environment


def test_a_folder_that_is_not_there_is_told(tmp_path: Path) -> None:
    done = subprocess.run(  # here a browser's event loop may run already
        [sys.executable, "-m", "silhouette3d", "open", "nothing/job.toml", "--no-browser"],
        cwd=tmp_path,
        env=environment(),
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 2
    assert "nothing" in done.stderr
    assert "Traceback" not in done.stderr


@pytest.mark.parametrize("how", [signal.SIGINT, signal.SIGTERM])
def test_it_prints_an_address_and_ends_quietly(tmp_path: Path, how: signal.Signals) -> None:
    process = subprocess.Popen(
        [sys.executable, "-m", "silhouette3d", "open", "--no-browser"],
        cwd=tmp_path,
        env=environment(),
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    assert process.stdout is not None
    line = process.stdout.readline()
    assert line.startswith("The workbench: http://127.0.0.1:")
    process.send_signal(how)
    out, err = process.communicate(timeout=60)
    assert (process.returncode, out, err) == (0, "", "")
