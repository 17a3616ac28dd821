"""Making a model's complaint into a sentence: which key, which line, what to do."""

from __future__ import annotations

import difflib
import re
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from pydantic import BaseModel, ValidationError
from pydantic_core import PydanticCustomError

from silhouette3d.errors import JobError

Location = tuple[str | int, ...]


def value_error(message: str, *key: str) -> PydanticCustomError:
    """A complaint of a model's own, about itself or about a key inside it."""
    context: dict[str, Any] = {"message": message.replace("{", "(").replace("}", ")"), "key": key}
    return PydanticCustomError("silhouette", "{message}", context)


def explain(
    error: ValidationError,
    data: Mapping[str, Any],
    path: Path | None,
    text: str,
    *,
    models: Mapping[str, type[BaseModel]],
) -> JobError:
    """The first complaint as a `JobError`; unknown keys come first, they cause others."""
    complaints = error.errors(include_url=False)
    first = next((c for c in complaints if c["type"] == "extra_forbidden"), complaints[0])
    place = _declared_part(first["loc"], data)
    if first["type"] == "missing":
        place = (*place, first["loc"][-1])
    message = first["msg"]
    what, todo = f"{_key(place)}: {_plain(message)}", ""
    if first["type"] == "extra_forbidden":
        what, todo = _unknown(place, models)
    elif first["type"] == "missing":
        what, todo = f"{_key(place)} is missing", "add it"
    elif first["type"] == "silhouette":
        extra = first.get("ctx", {}).get("key", ())
        place = (*place, *extra)
        what = f"{_key(place)}: {message}" if place else message
    elif same_place := _alternatives(complaints, place, data):
        what = f"{_key(place)}: {same_place}"
    line = line_of(text, place)
    where = str(path) if path else "job"
    return JobError(what, where=f"{where}, line {line}" if line else where, todo=todo)


def line_of(text: str, place: Location) -> int | None:
    """The line (from 1) on which a key, or the table that should hold it, is written.

    >>> line_of('name = "a"\\n[[profile]]\\nview = "top"', ("profile", 0, "view"))
    3
    """
    tables: dict[tuple[str, ...], int] = {}
    here: Location = ()
    best: tuple[int, int | None] = (0, None)
    for number, line in enumerate(text.splitlines(), start=1):
        if header := re.match(r"\s*(\[\[?)\s*([\w.\-]+)\s*\]\]?", line):
            here = _enter(tuple(header[2].split(".")), header[1] == "[[", tables)
            found = here
        elif key := re.match(r"\s*([\w\-]+)\s*=", line):
            found = (*here, key[1])
        else:
            continue
        if found == place[: len(found)] and len(found) > best[0]:
            best = (len(found), number)
    return best[1]


def _enter(names: tuple[str, ...], is_array: bool, tables: dict[tuple[str, ...], int]) -> Location:
    """The location that a table header opens, counting the tables of an array."""
    if is_array:
        tables[names] = tables.get(names, -1) + 1
        for inner in [t for t in tables if t[: len(names)] == names and t != names]:
            del tables[inner]
    place: list[str | int] = []
    for depth, name in enumerate(names, start=1):
        place.append(name)
        if names[:depth] in tables:
            place.append(tables[names[:depth]])
    return tuple(place)


def _declared_part(loc: Location, data: Any) -> Location:
    """The leading part of a complaint's location that is really in the file."""
    place: list[str | int] = []
    for step in loc:
        try:
            data = data[step]
        except (KeyError, IndexError, TypeError):
            continue
        place.append(step)
    return tuple(place)


def _key(place: Location) -> str:
    """A location as one would say it: profile 2, key shift.

    >>> _key(("profile", 1, "shift"))
    'profile 2, shift'
    """
    words: list[str] = []
    for step in place:
        if isinstance(step, int) and words:
            words[-1] += f" {step + 1}"
        else:
            words.append(str(step))
    return ", ".join(words) or "the job"


def _unknown(place: Location, models: Mapping[str, type[BaseModel]]) -> tuple[str, str]:
    names = [step for step in place[:-1] if isinstance(step, str)]
    model = models[names[-1] if names and names[-1] in models else ""]
    known = list(model.model_fields)
    nearest = difflib.get_close_matches(str(place[-1]), known, n=1, cutoff=0.0)
    return (
        f"{_key(place[:-1])}: there is no key {str(place[-1])!r}",
        f"did you mean {nearest[0]!r}? Known keys: {', '.join(known)}",
    )


def _plain(message: str) -> str:
    """A validator's message without the words of its own language."""
    for theirs, ours in _WORDS:
        message = re.sub(theirs, ours, message)
    return message[:1].lower() + message[1:]


_WORDS = (
    (r"Input should be a valid dictionary or instance of \w+", "it must be a table {…}"),
    (r"Input should be a valid (tuple|list|array)", "it must be a list […]"),
    (r"Input should be a valid boolean.*", "it must be true or false"),
    (r"Input should be a valid (string|number|integer).*", r"it must be a \1"),
    (r"Input should be ", "it must be "),
    (r"Tuple should have at most (\d+) items? after validation, not.*", r"it takes \1 values"),
    (r"Tuple should have at least (\d+) items? after validation, not.*", r"it needs \1 or more"),
    (r"String should have at least 1 character", "it must not be empty"),
    (r"Field required", "a value is missing"),
)


def _alternatives(complaints: list[Any], place: Location, data: Mapping[str, Any]) -> str:
    """What every branch of a choice asked for, when none of them fitted."""
    asked = [
        _plain(c["msg"])
        for c in complaints
        if _declared_part(c["loc"], data)[: len(place)] == place and c["type"] != "missing"
    ]
    return "; or ".join(dict.fromkeys(asked)) if len(asked) > 1 else ""
