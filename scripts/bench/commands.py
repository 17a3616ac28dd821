"""Whole processes on the samples, beside a Python that only loads numpy, scipy and shapely."""

from __future__ import annotations

import resource
import statistics
import subprocess
import sys
from collections.abc import Iterator, Sequence
from pathlib import Path
from tempfile import TemporaryDirectory

from bench.cuts import SAMPLES
from bench.timing import Row

_BARE = [sys.executable, "-c", "import numpy, scipy.spatial, shapely"]
_CLI = [sys.executable, "-m", "silhouette3d"]


def rows(names: Sequence[str], commands: Sequence[str], rounds: int) -> Iterator[Row]:
    """Each command in turn with the bare start."""
    with TemporaryDirectory() as folder:
        for name, command in [("", "--help"), *((n, c) for n in names for c in commands)]:
            line = [*_CLI, command, *([str(SAMPLES / name)] if name else [])]
            ending = {"picture": "a.png", "sheets": "a.pdf"}.get(command)
            line += ["-o", str(Path(folder) / ending)] if ending else []
            pairs = [(_seconds(line), _seconds(_BARE)) for _ in range(rounds)]
            ours, bare = (statistics.median(side) for side in zip(*pairs, strict=True))
            yield Row("command", f"{command} {name}".strip(), ours, bare, "a bare start")


def _seconds(line: Sequence[str]) -> float:
    """Processor time of a process; 1 is the exit status of a check that finds something."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    done = subprocess.run(line, capture_output=True, text=True, check=False, cwd=SAMPLES.parent)
    if done.returncode not in {0, 1}:
        raise RuntimeError(f"{' '.join(line)}: {done.stderr}")
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
