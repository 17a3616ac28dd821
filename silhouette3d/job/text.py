"""The text of a job file, and a model's complaint about it as a sentence."""

from __future__ import annotations

import difflib
import json
import re
import tomllib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from pydantic import BaseModel, ValidationError
from pydantic.fields import FieldInfo
from pydantic_core import PydanticCustomError

from silhouette3d.base.files import read_bytes
from silhouette3d.base.limits import JOB_MB
from silhouette3d.errors import JobError

# --- Making a model's complaint into a sentence: which key, which line, what to do


Location = tuple[str | int, ...]
Models = Mapping[str, Sequence[type[BaseModel]]]
"""For each table of the file, by its key, the models that it may be."""


@dataclass(frozen=True)
class Takes:
    """Words for the values of a key, said after "it must be"; an annotation of a model's field."""

    words: str


def value_error(message: str, *key: str | int, todo: str = "") -> PydanticCustomError:
    """Raise a model's own complaint, about itself or about a key inside it."""
    context: dict[str, Any] = {"message": message, "key": key, "todo": todo}
    return PydanticCustomError("silhouette", "{message}", context)


def explain(
    error: ValidationError, data: Mapping[str, Any], path: Path | None, text: str, *, models: Models
) -> JobError:
    """Word the first complaint as a `JobError`; unknown keys come first, they cause others.

    Where a value may be of several kinds and is of none, the complaint about
    the kind that fitted best counts: the one that reaches deepest into it.
    """
    complaints = [_Complaint.of(one, data) for one in error.errors(include_url=False)]
    first = next((c for c in complaints if c.kind == "extra_forbidden"), complaints[0])
    of_same_value = (c for c in complaints if c.place[: len(first.place)] == first.place)
    worst = max(of_same_value, key=lambda c: (len(c.place), c.kind == "silhouette"))
    what, todo, place = worst.told(data, models)
    where = str(path) if path else "job"
    line = line_of(text, place)
    return JobError(what, where=f"{where}, line {line}" if line else where, todo=todo)


@dataclass(frozen=True)
class _Complaint:
    """Complaint of a model about one value.

    Parameters
    ----------
    place : tuple
        The keys and positions that lead to it in the file; the last may be missing there.
    kind : str
        The model's own word for what is wrong.
    context : mapping
        Limits and the like.
    value : object
        As written.
    """

    place: Location
    kind: str
    context: Mapping[str, Any]
    value: object

    @classmethod
    def of(cls, error: Mapping[str, Any], data: Mapping[str, Any]) -> _Complaint:
        place = _declared_part(error["loc"], data)
        if error["type"] == "missing":
            place = (*place, error["loc"][-1])
        return cls(place, error["type"], error.get("ctx", {}), error["input"])

    def told(self, data: Mapping[str, Any], models: Models) -> tuple[str, str, Location]:
        """Tell what is wrong, what to do, and the place that is at fault."""
        if self.kind == "extra_forbidden":
            return (*_unknown(self.place, data, models), self.place)
        if self.kind == "silhouette":
            place = (*self.place, *self.context["key"])
            about = f"{_say(place, data)}: " if place else ""
            return about + self.context["message"], self.context["todo"], place
        if self.kind == "missing" and isinstance(self.place[-1], str):
            words = f": {_takes(self.place, models)}" if _takes(self.place, models) else ""
            return f"{_say(self.place, data)} is missing", f"add it{words}", self.place
        if limit := self._limit():
            return f"{_say(self.place, data)}: it must {limit}", "", self.place
        place, words = self._wanted(models)
        written = _written(_at(place, data))
        what = f"{_say(place, data)}: it must be {words}, not {written}"
        return what, self._nearest(), place

    def _limit(self) -> str:
        """Tell what a number or text of the right kind must be besides, or nothing."""
        if self.kind == "string_too_short":
            return "not be empty"
        if self.kind == "finite_number":
            return "be a finite number"
        bounds = {"gt": "more than", "ge": "at least", "lt": "less than", "le": "at most"}
        said = (f"be {says} {self.context[b]:g}" for b, says in bounds.items() if b in self.context)
        return next((f"{text}, not {_written(self.value)}" for text in said), "")

    def _wanted(self, models: Models) -> tuple[Location, str]:
        """Find the place whose value is of a wrong kind, and what it takes."""
        names = [i for i, step in enumerate(self.place) if isinstance(step, str)]
        field = self.place[: names[-1] + 1] if names else self.place
        simple = _SIMPLE.get(self.kind.removesuffix("_type").removesuffix("_parsing"))
        if simple and (field != self.place or not _takes(field, models)):
            return self.place, simple
        return field, _takes(field, models) or "of another kind"

    def _nearest(self) -> str:
        known = re.findall(r"'([^']*)'", str(self.context.get("expected", "")))
        near = _closest(self.value, known, 0.6) if isinstance(self.value, str) else None
        return f'the nearest is "{near}"' if near else ""


_SIMPLE: Final = {"float": "a number", "string": 'text in "quotes"', "bool": "true or false"}


def line_of(text: str, place: Location) -> int | None:
    r"""Find the line (from 1) on which a key, or the table that should hold it, is written.

    >>> line_of('name = "a"\n[[profile]]\nview = "top"', ("profile", 0, "view"))
    3
    """
    tables: dict[tuple[str, ...], int] = {}
    here: Location = ()
    best: tuple[int, int | None] = (0, None)
    for number, line in enumerate(text.split("\n"), start=1):
        if header := re.match(rf"\s*(\[\[?)({_DOTTED})\]", line):
            here = _enter(_names(header[2]), header[1] == "[[", tables)
            found = here
        elif key := re.match(rf"({_DOTTED})=", line):
            found = (*here, *_names(key[1]))
        else:
            continue
        depth = min(len(found), len(place))
        if depth > best[0] and found[:depth] == place[:depth]:
            best = (depth, number)
    return best[1]


_ONE: Final = r"""\s*(?:[\w\-]+|"[^"]*"|'[^']*')\s*"""
_DOTTED: Final = rf"{_ONE}(?:\.{_ONE})*"


def _names(dotted: str) -> tuple[str, ...]:
    return tuple(one.strip().strip("\"'") for one in re.findall(_ONE, dotted))


def _enter(names: tuple[str, ...], is_array: bool, tables: dict[tuple[str, ...], int]) -> Location:
    """Enter the location that a table header opens, counting the tables of an array."""
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
    """Find the part of a complaint's location that is really in the file."""
    place: list[str | int] = []
    for step in loc:
        if _has(data, step):
            data = data[step]
            place.append(step)
    return tuple(place)


def _has(data: Any, step: str | int) -> bool:
    if isinstance(step, int):
        return isinstance(data, list | tuple) and 0 <= step < len(data)
    return isinstance(data, Mapping) and step in data


def _at(place: Location, data: Any) -> Any:
    for step in place:
        data = data[step]
    return data


def _say(place: Location, data: Any) -> str:
    """Word a location as one would say it.

    >>> data = {"profile": [{}, {"shift": [1, 2]}]}
    >>> _say(("profile", 1, "shift", 0), data)
    'profile 2, shift, value 1'
    """
    words: list[str] = []
    for step in place:
        data = data[step] if _has(data, step) else None
        if isinstance(step, str):
            words.append(step)
        elif isinstance(data, Mapping):
            words[-1] += f" {step + 1}"
        else:
            words.append(f"value {step + 1}")
    return ", ".join(words) or "the job"


def _takes(place: Location, models: Models) -> str:
    """Tell what the field at the end of a place takes, in words, if the model says it."""
    names = [step for step in place if isinstance(step, str)]
    table = names[-2] if len(names) > 1 else ""
    field = keys_of(models.get(table, ())).get(names[-1]) if names else None
    return next((m.words for m in field.metadata if isinstance(m, Takes)), "") if field else ""


def keys_of(models: Iterable[type[BaseModel]]) -> dict[str, FieldInfo]:
    """List the keys of a table as they are written in the file, of all models that it may be."""
    return {
        field.alias or name: field for model in models for name, field in model.model_fields.items()
    }


def _unknown(place: Location, data: Any, models: Models) -> tuple[str, str]:
    names = [step for step in place[:-1] if isinstance(step, str)]
    table, key = names[-1] if names else "", str(place[-1])
    known = list(keys_of(models[table]))
    what = f'{_say(place[:-1], data)}: there is no key "{key}"'
    near = _closest(key, known, 0.0)
    homes = [home for home, of_table in models.items() if key in keys_of(of_table)]
    if homes and not _closest(key, known, _SLIP):
        return what, f'"{key}" belongs {_home(key, homes[0])}'
    return what, f'the nearest is "{near}"; known keys: {", ".join(known)}'


_SLIP: Final = 0.75
"""Likeness from which on a key counts as misspelt rather than as misplaced."""


def _home(key: str, table: str) -> str:
    """Tell where in the file a key of a table stands."""
    if key in ("stock", "checks", "cutting"):
        return f"in a table of its own, under [{key}]"
    if key == "profile" or table == "profile":
        return "under [[profile]]"
    return f"under [{table}]" if table else "at the top of the file, before the first [table]"


def _closest(word: str, known: Iterable[str], cutoff: float) -> str | None:
    """Find the known word most like one; case does not count."""
    folded = {one.casefold(): one for one in known}
    near = difflib.get_close_matches(word.casefold(), folded, n=1, cutoff=cutoff)
    return folded[near[0]] if near else None


def _written(value: object) -> str:
    """Write a value about as it stands in the file, on one line and not too long."""
    if isinstance(value, Mapping):
        return "a table"
    if isinstance(value, list | tuple):
        text = "[" + ", ".join(_written(one) for one in value) + "]"
    elif isinstance(value, str | bool):
        text = json.dumps(value, ensure_ascii=False)
    else:
        text = str(value)
    return text if len(text) <= _LONG else text[: _LONG - 1] + "…"


_LONG: Final = 60
"""Characters of a value that a message repeats."""


# --- The text of a job file, and the values that TOML says it holds


_PLAIN_WORDS: Final = (
    (r"Cannot overwrite a value", "this key stands there a second time"),
    (r"Cannot (declare .* twice|mutate)", "this table stands there a second time"),
    (r"Illegal character '\\n'", "the line ends before the closing quote"),
    (r"Unterminated string|Expected \"'\"", "the closing quote is missing"),
    (r"Unescaped '\\'", r'a \ in "quotes" must be doubled; or write the text in single quotes'),
    (r"Invalid value", 'this is no value: text stands in "quotes", numbers are like 12.5'),
    (r"Invalid statement", "a line must be a comment, a [table] or key = value"),
    (r"Invalid initial character", "there is no key where one must stand"),
    (r"Expected '='", "after a key (letters a to z, digits, - and _) there must be an ="),
    (
        r"Expected newline",
        "the line goes on after its value (a number is like 12.5, without a unit)",
    ),
    (r"Unclosed array|Expected '\]", "the closing ] is missing"),
    (r"Unclosed inline table", "the closing } is missing"),
)
"""What the reader of TOML says, and what that means for somebody who wrote the file."""


def read_text(path: Path) -> str:
    """Read the text of a job file, its line ends made one character.

    Raises
    ------
    JobError
        If the file is not there, cannot be read, is larger than the limit or not UTF-8.
    """
    try:
        most = JOB_MB.value * 1024**2
        data = read_bytes(path, most + 1)
        if len(data) > most:
            raise JobError(
                f"the file holds more than {JOB_MB.value} MB",
                where=str(path),
                todo=f"check that it is a job file, {JOB_MB.raised}",
            )
        return text_of(data, path)
    except OSError as error:
        missing = isinstance(error, FileNotFoundError)
        what = "there is no such job file"
        raise JobError(
            what if missing else f"the file cannot be read: {error.strerror}",
            where=str(path),
            todo="check the path, or write a starter job with `silhouette3d new FOLDER`"
            if missing
            else "check what it is and who may read it",
        ) from None
    except ValueError as error:
        raise JobError(f"no file can have this name: {error}", where=repr(str(path))) from None


def text_of(data: bytes, path: Path) -> str:
    """Decode the bytes of a job file, its line ends made one character.

    Raises
    ------
    JobError
        If they are not UTF-8.
    """
    try:
        return data.decode("utf-8-sig").replace("\r\n", "\n")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise JobError(
            "the file is not UTF-8 text", where=f"{path}, line {line}", todo="save it as UTF-8"
        ) from None


def values_of(text: str, path: Path) -> dict[str, Any]:
    """Parse the values that a job file holds.

    Raises
    ------
    JobError
        If the text is not TOML.
    """
    try:
        return tomllib.loads(text)
    except RecursionError:
        reason, line = "lists are nested too deeply", ""
    except tomllib.TOMLDecodeError as error:
        reason, line = _reason(str(error), text)
    except ValueError:  # it gives up on whole numbers of thousands of digits
        reason, line = "a number has too many digits", ""
    raise JobError(
        f"this is not TOML: {reason}",
        where=f"{path}{line}",
        todo="correct the file; how TOML is written: https://toml.io",
    )


def _reason(message: str, text: str) -> tuple[str, str]:
    """Put the reader's complaint in plain words, and tell where in the file it is."""
    told, _, at = message.rpartition(" (at ")
    place = at.rstrip(")")
    if not place.startswith("line"):
        place = f"line {len(text.rstrip().splitlines())}"
    told = next((ours for theirs, ours in _PLAIN_WORDS if re.match(theirs, told)), told or message)
    return told, f", {place}"
