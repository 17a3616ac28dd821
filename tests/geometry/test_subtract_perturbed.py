"""A part that cannot be made exactly says so, wherever it is measured or judged."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from shapely import Polygon

import silhouette3d
from tests.support.command import Run
from tests.support.shapes import Shape, rect, write_job

SLOPE = 2e-4
"""Of one top to another; they cross in the middle, and an oblique view makes the engine cut."""


def crossing_tops(folder: Path, slope: float) -> Path:
    """A block whose top is drawn level in one view and with a slope in the view from behind."""
    rise = 30.0 * slope
    outlines = {
        "front": rect(0, 0, 60, 30),
        "rear": Polygon([(0, 0), (60, 0), (60, 30 + rise), (0, 30 - rise)]),
        "right": rect(1, 0, 39, 40),
    }
    path = write_job(folder, Shape((60, 40, 40), outlines, 0, 0))
    text = path.read_text("utf-8")
    path.write_text(
        text.replace('view = "right"', "view = {look = [-1.0, 0.001, 0.0], up = [0.0, 0.0, 1.0]}"),
        "utf-8",
    )
    return path


@pytest.mark.parametrize(("slope", "exact"), [(SLOPE, False), (0.02, True), (0.0, True)])
def test_walls_that_cross_too_flatly(slope: float, exact: bool, tmp_path: Path, run: Run) -> None:
    part = silhouette3d.load(crossing_tops(tmp_path, slope))
    off = part.solid.perturbed_by
    # half of each side of 60 mm is cut off by a slope of 30 mm; the ends are aslant by 0.001
    length = 38.0 * np.hypot(1.0, 0.001)
    meant = (60 * 30 - 30 * 30 * slope / 2) * length
    assert part.solid.volume == pytest.approx(meant, abs=1e-3 * 38)
    assert (off == 0.0) is exact
    assert off < 1e-6
    assert part.volume_error == pytest.approx(off * part.solid.surface_area)
    weighed = json.loads(run("weigh", tmp_path / "job.toml", "--json")[1])
    assert weighed["perturbed_by_mm"] == off
    for command in ("weigh", "check"):
        told = run(command, tmp_path / "job.toml")[1]
        assert ("from where they were drawn" in " ".join(told.split())) is not exact
