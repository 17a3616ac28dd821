"""Every key of the job file is explained: in its schema, and in what `silhouette3d new` writes."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from silhouette3d.job.model import schema
from silhouette3d.job.starter import write_starter

WITHOUT_DEFAULT = {("StockSpec", "size"), ("StockSpec", "round"), ("StockSpec", "material")}
"""Not required singly, but one of each pair is; so there is nothing that is taken without them."""

Key = tuple[str, str]
"""The model in job.py or job_spec.py, and the key as it is written in the file."""


def keys(of: dict[str, Any]) -> Iterator[tuple[Key, dict[str, Any], bool]]:
    """Every key of a schema with what is said of it, and whether it may be left out."""
    for title, model in {"Job": of, **of["$defs"]}.items():
        for key, said in model.get("properties", {}).items():
            yield (title, key), said, key not in model.get("required", ())


def is_table(said: dict[str, Any]) -> bool:
    """Whether a key holds a table of its own or several, whose model says what it is."""
    return "$ref" in said or "$ref" in said.get("items", {})


def silent(of: dict[str, Any]) -> list[Key]:
    """Keys without a description."""
    return [key for key, said, _ in keys(of) if not (said.get("description") or is_table(said))]


def without_default(of: dict[str, Any]) -> list[Key]:
    """Keys that may be left out and do not say what is taken then."""
    return [
        key
        for key, said, optional in keys(of)
        if optional and not is_table(said) and "default" not in said.get("description", "")
    ]


def missing(of: dict[str, Any], text: str) -> list[Key]:
    """Keys that a commented job file does not show with their description."""
    plain = flat(text)
    return [
        key
        for key, said, _ in keys(of)
        if not re.search(rf"(?m)(^|^# |[{{ ]){key[1]} *= |^(# )?\[\[?([a-z_]+\.)?{key[1]}\]", text)
        or flat(said.get("description", "")) not in plain
    ]


def flat(text: str) -> str:
    """A text without line breaks and the signs of comments."""
    return " ".join(text.replace("#", " ").split())


def test_every_key_says_what_it_does() -> None:
    assert silent(schema()) == [], "give these keys description=… in the Field of their model"


def test_every_key_that_may_be_left_out_says_what_is_taken_then() -> None:
    assert set(without_default(schema())) <= WITHOUT_DEFAULT, (
        "end the description= of these keys, in the Field of their model, with '; default …'"
    )


def test_the_starter_job_shows_every_key(tmp_path: Path) -> None:
    """It is made from the model: LookupError from it names a key that needs examples=[…]."""
    text = write_starter(tmp_path / "new").read_text("utf-8")
    assert missing(schema(), text) == [], "see silhouette3d/job/starter/keys.py, which shows them"


# The guards themselves: what they must catch.

SAID = {"description": "how thick; default 1"}


@pytest.mark.parametrize(
    ("said", "found"),
    [
        (SAID, ([], [], [])),
        ({}, ([("Cut", "wall")], [("Cut", "wall")], [])),
        ({"description": "how thick"}, ([], [("Cut", "wall")], [])),
        ({"description": "how thin; default 1"}, ([], [], [("Cut", "wall")])),
    ],
)
def test_what_is_not_said_is_caught(said: dict[str, Any], found: tuple[list[Key], ...]) -> None:
    model = {"properties": {}, "$defs": {"Cut": {"properties": {"wall": said}}}}
    text = "[cut]\n# wall = 1   # how thick;\n      # default 1"
    told = silent(model), without_default(model), missing(model, text)
    assert told[:2] == found[:2]
    assert told[2] == found[2]


def test_a_key_that_is_not_shown_is_caught() -> None:
    model = {"properties": {}, "$defs": {"Cut": {"properties": {"wall": SAID}}}}
    for text in ("# walls = 1 # how thick; default 1", "how thick; default 1", "wall"):
        assert missing(model, text) == [("Cut", "wall")]
    for text in ("wall = 1", "# wall = 1", "# a = {b = 1, wall = 2}", "# [[profile.wall]]"):
        assert missing(model, f"{text} # how thick; default 1") == []
