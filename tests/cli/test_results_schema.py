"""The JSON Schema of what commands print with --json: an independent validator reads it."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from silhouette3d.cli.results_schema import results_schema
from tests.guard.imports import ROOT
from tests.support.command import Run, run

__all__ = ["run"]

SAMPLES = sorted(path.parent for path in (ROOT / "samples").rglob("job.toml"))
CHECK = jsonschema.Draft202012Validator(results_schema() | {"anyOf": [{"$ref": "#/$defs/Check"}]})
ALL = jsonschema.Draft202012Validator(results_schema())


def test_it_is_a_schema(run: Run) -> None:
    status, out, _ = run("schema", "--results")
    assert status == 0
    assert json.loads(out) == results_schema()
    jsonschema.Draft202012Validator.check_schema(results_schema())


@pytest.mark.parametrize(
    "sample",
    [
        pytest.param(path, id=path.name, marks=[pytest.mark.big] * (path.name == "lighthouse"))
        for path in SAMPLES
    ],
)
def test_every_sample_checked(run: Run, sample: Path) -> None:
    for more in ((), ("--all", "--units", "both")):
        CHECK.validate(json.loads(run("check", sample, "--json", *more)[1]))


@pytest.mark.parametrize("command", ["weigh", "thickness", "stages", "order", "tabs"])
def test_other_commands(run: Run, command: str) -> None:
    for name in ("tugboat", "crane", "faulty/several-bodies", "faulty/knife-edge"):
        data = json.loads(run(command, ROOT / "samples" / name, "--json")[1])
        ALL.validate(data)
        assert not CHECK.is_valid(data)


def test_materials(run: Run) -> None:
    ALL.validate(json.loads(run("materials", "--json")[1]))


def leaves(value: Any, way: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    """Ways to every key of an object, however deep; those of facts are free."""
    if isinstance(value, dict):
        for key, inner in value.items():
            yield (*way, key)
            if key not in {"facts", "quantities"}:
                yield from leaves(inner, (*way, key))
    elif isinstance(value, list):
        for i, inner in enumerate(value):
            yield from leaves(inner, (*way, i))


def test_nothing_may_be_missing_or_added(run: Run) -> None:
    data = json.loads(run("check", ROOT / "samples" / "faulty" / "thin-section", "--json")[1])
    CHECK.validate(data)
    for way in leaves(data):
        worse = json.loads(json.dumps(data))
        at = worse
        for step in way[:-1]:
            at = at[step]
        kept = at.pop(way[-1])
        assert not CHECK.is_valid(worse), way
        at[way[-1]], at["stranger"] = kept, 1
        assert not CHECK.is_valid(worse), way
