"""Whatever does not fit is told: what, where, in the job's unit, and what to do."""

from __future__ import annotations

import re
from typing import get_args

import pytest

from silhouette3d.base.units import Unit
from silhouette3d.errors import CuttingError, DrawingError, PlacementError
from silhouette3d.geometry.misfit import MisfitCode, MisfitError
from silhouette3d.presentation.wording.misfits import misfit_in_words, misfits_in_words

MISFITS = [
    (MisfitError("outline-too-long", 2e6), PlacementError, "2000000 mm long"),
    (MisfitError("layer-missing", subject="CUT", others=["A", "B"]), DrawingError, "'CUT'"),
    (MisfitError("stock-not-upright", 0, 1, 2, 3, subject="STOCK"), DrawingError, "(2, 3)"),
    (MisfitError("tab-astray", 25.4, at=(50.8, 0.0)), CuttingError, "25.4 mm off|1 in off"),
    (MisfitError("tab-astray", 25.4, subject="LINE"), CuttingError, "LINE touches no outline"),
    (MisfitError("tab-too-wide", 25.4, 50.8, at=(0.0, 0.0)), CuttingError, "25.4 mm|1 in"),
    (MisfitError("tab-too-long", 25.4, 50.8), CuttingError, "cut of 50.8 mm|cut of 2 in"),
    (MisfitError("tab-off-path", 25.4, subject="LINE"), CuttingError, "is 25.4 mm off|is 1 in off"),
    (MisfitError("tab-leaves-nothing", 25.4, 50.8, subject="A"), CuttingError, "50.8 mm|2 in wide"),
    (
        MisfitError("clamp-off-face", 0, 0, 25.4, 25.4, 50.8, 50.8, count=2),
        CuttingError,
        "clamp 2, [0, 0, 25.4, 25.4] mm|clamp 2, [0, 0, 1, 1] in",
    ),
    (MisfitError("too-many-cuts", count=9), CuttingError, "there are 9 profiles"),
]


@pytest.mark.parametrize("unit", ["mm", "in"])
@pytest.mark.parametrize(("misfit", "kind", "told"), MISFITS, ids=lambda one: str(one)[:20])
def test_each_is_told_in_the_unit_of_the_job(
    misfit: MisfitError, kind: type[Exception], told: str, unit: Unit
) -> None:
    error = misfit_in_words(misfit, unit, "job.toml, profile 'front'")
    assert type(error) is kind
    assert told.split("|")[-1 if unit == "in" else 0] in error.what
    assert error.where == "job.toml, profile 'front'"
    assert error.todo
    assert re.fullmatch(r"[^A-Z].*[^.]", error.what) or misfit.subject in error.what


def test_every_one_is_told_here_or_by_the_job() -> None:
    views = {code for code in get_args(MisfitCode) if code.startswith("view-")}
    assert {misfit.code for misfit, *_ in MISFITS} == set(get_args(MisfitCode)) - views


def test_other_errors_pass() -> None:
    with pytest.raises(KeyError), misfits_in_words("mm", "job.toml"):
        raise KeyError("ours")
