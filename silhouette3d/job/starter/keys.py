"""Explain every key of the job file, from the model that reads it.

The starter's template holds what its job declares. A key there gets its
description as a comment where it stands first; at the mark `#: rest` follow
the other keys of that table and at `#: tables` the other tables, commented
out, each with its default or an example. So no text is written twice, and a
key that is added to the model is explained with it.
"""

from __future__ import annotations

import json
import re
import textwrap
from collections.abc import Iterator, Mapping
from typing import Any, Final, Literal, get_args, get_origin

from pydantic.fields import FieldInfo

from silhouette3d.job.model import Job, Model

__all__ = ["explained"]

_COLUMN: Final = 33
"""Where comments begin, counted from 0."""

_WIDTH: Final = 98

_OFF: Final = "# "
"""Stands before what is not in force."""


def explained(template: str) -> str:
    """Fill in a template of a job file.

    Parameters
    ----------
    template : str
        TOML with marks. A line that has a comment of its own keeps it.

    Returns
    -------
    str
        TOML that declares the same, and explains every key of the model.

    Raises
    ------
    LookupError
        If a key of the model has neither a default nor an example to show.
    """
    declared = _declared(template)
    waiting = {table: set(keys) for table, keys in declared.items()}
    lines: list[str] = []
    table = ""
    for line in template.splitlines():
        if header := _HEADER.match(line):
            table = header[1]
        if line == "#: rest":
            lines += _rest(table, declared[table])
        elif line == "#: tables":
            for name, model in _tables().items():
                if name not in declared:
                    lines += ["", *_block(name, model, Job.model_fields[name])]
        elif (key_line := _KEY.match(line)) and key_line[1] in waiting[table]:
            waiting[table].remove(key_line[1])
            lines += _beside(line, key_line[1], _fields(_tables()[table])[key_line[1]])
        else:
            lines.append(line)
    return "\n".join(lines) + "\n"


_HEADER: Final = re.compile(r"\[\[?(\w+)\]\]?")
_KEY: Final = re.compile(r"(\w+)\s*=")


def _declared(template: str) -> dict[str, set[str]]:
    """List the keys that a template declares, by table; those before the first table under ""."""
    found: dict[str, set[str]] = {"": set()}
    table = ""
    for line in template.splitlines():
        if header := _HEADER.match(line):
            table = header[1]
            found.setdefault(table, set())
        elif key := _KEY.match(line):
            found[table].add(key[1])
    return found


def _tables() -> dict[str, type[Model]]:
    """List the tables of a job file, in its order; the file itself under ""."""
    inner = ((name, _models(field.annotation)) for name, field in _fields(Job).items())
    return {"": Job} | {name: models[0] for name, models in inner if models}


def _fields(model: type[Model]) -> dict[str, FieldInfo]:
    """List the keys of a table as they are written."""
    return {field.alias or name: field for name, field in model.model_fields.items()}


def _models(annotation: object) -> list[type[Model]]:
    """List every table that a key may hold."""
    if isinstance(annotation, type) and issubclass(annotation, Model):
        return [annotation]
    return [model for inner in get_args(annotation) for model in _models(inner)]


def _beside(line: str, key: str, field: FieldInfo) -> list[str]:
    """Write a template's line with its explanation, and other kinds of value that it may have."""
    own = [line] if "#" in line else _noted(line, field.description or "")
    return [*own, *_inline(key, field, "")]


def _rest(table: str, declared: set[str]) -> Iterator[str]:
    """Write the keys of a table that are not declared; tables in it come last, as TOML has it."""
    fields = {k: f for k, f in _fields(_tables()[table]).items() if k not in declared}
    if not table:
        fields = {key: field for key, field in fields.items() if key not in _tables()}
    inner = {key: _models(f.annotation)[0] for key, f in fields.items() if _is_many(f)}
    for key, field in fields.items():
        if key not in inner:
            yield from _shown(key, field)
    for key, model in inner.items():
        yield from _block(f"{table}.{key}", model, fields[key])


def _shown(key: str, field: FieldInfo) -> list[str]:
    """Write a key that is not declared: its default or an example, and its explanation."""
    if _models(field.annotation):
        return _inline(key, field, field.description or "")
    return _noted(f"{_OFF}{key} = {_toml(_example(key, field))}", field.description or "")


def _block(name: str, model: type[Model], field: FieldInfo) -> Iterator[str]:
    """Write a table, or one of several, with all its keys."""
    header = f"[[{name}]]" if _is_many(field) else f"[{name}]"
    yield from _noted(_OFF + header, field.description or (model.__doc__ or "").splitlines()[0])
    for key, inner in _fields(model).items():
        yield from _shown(key, inner)


def _is_many(field: FieldInfo) -> bool:
    """Tell whether a key holds any number of tables."""
    return get_origin(field.annotation) is tuple and bool(_models(field.annotation))


def _inline(key: str, field: FieldInfo, description: str) -> list[str]:
    """Write a key with each kind of inline table that it may hold, and what is in that."""
    lines: list[str] = []
    for model in _models(field.annotation):
        fields = _fields(model)
        value = {name: _example(name, inner) for name, inner in fields.items()}
        lines += _noted(f"{_OFF}{key} = {_toml(value)}", description)
        for name, inner in fields.items():
            lines += _noted("", f"{name}: {inner.description}")
    return lines


def _example(key: str, field: FieldInfo) -> Any:
    """Choose a value to show: an example, the default, or the first of a few words."""
    if field.examples:
        return field.examples[0]
    if field.default is not None and not field.is_required():
        return field.default
    words = _words(field.annotation)
    if not words:
        raise LookupError(f'give the key "{key}" of the job file examples=[…] in its Field')
    return words[0]


def _words(annotation: object) -> list[Any]:
    if get_origin(annotation) is Literal:
        return list(get_args(annotation))
    return [word for inner in get_args(annotation) for word in _words(inner)]


def _toml(value: object) -> str:
    if isinstance(value, Mapping):
        return "{" + ", ".join(f"{key} = {_toml(one)}" for key, one in value.items()) + "}"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(map(_toml, value)) + "]"
    return json.dumps(value, ensure_ascii=False)


def _noted(code: str, text: str) -> list[str]:
    """Put a comment beside a line of the file, or below where it is too long for that."""
    wrapped = textwrap.wrap(text, _WIDTH - _COLUMN - 2, break_on_hyphens=False)
    beside = len(code) < _COLUMN and wrapped
    first = [code.ljust(_COLUMN) + "# " + wrapped[0]] if beside else [code] * bool(code)
    below = wrapped[1:] if beside else wrapped
    return [*first, *(" " * _COLUMN + "# " + line for line in below)]
