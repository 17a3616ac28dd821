"""Saving a job: its values go into its file, and all else there stays as it is."""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping, Sequence
from difflib import SequenceMatcher
from pathlib import Path
from typing import Any

import tomlkit
from tomlkit.container import Container
from tomlkit.items import AoT, Array, Comment, InlineTable, Item, Key, Table, Whitespace

from silhouette3d.base.files import atomic_write
from silhouette3d.errors import JobError
from silhouette3d.job.model import Job
from silhouette3d.job.text import text_of, values_of

__all__ = ["save_job", "saved_bytes"]

Body = list[tuple[Key | None, Item]]
Section = tuple[Body, int, Table | None]


def save_job(job: Job, path: str | os.PathLike[str] | None = None) -> None:
    """Write a job's values into its file.

    Comments, order and layout of what did not change are kept; a key that the
    file does not have yet is added at the end of its table. The paths of
    drawings are written as the job declares them.

    Parameters
    ----------
    job : Job
        Read from a file, or changed.
    path : str or path-like, optional
        Another file to write; the comments come from the job's own file.

    Raises
    ------
    JobError
        If there is no file to write to, or the job's file has meanwhile been
        made into something that is not TOML.
    OutputError
        If the file cannot be written; it then stays as it was.
    """
    target = path or job.path
    if target is None:
        raise JobError("this job has no file yet", where="job", todo="say where to save it")
    raw = b""
    if job.path is not None and job.path.is_file():
        raw = job.path.read_bytes()
    new = saved_bytes(job, raw, str(job.path or target))
    with atomic_write(target) as draft:
        draft.write_bytes(new)


def saved_bytes(job: Job, raw: bytes, where: str) -> bytes:
    """Write a job's values into the bytes of its file.

    Parameters
    ----------
    job : Job
        The values.
    raw : bytes
        The file so far: its comments, line ends and byte order mark are kept.
    where : str
        The file, for messages.

    Raises
    ------
    JobError
        If the file so far is not UTF-8 text, not TOML, or laid out in a way that does
        not let the values in.
    """
    new = merged(text_of(raw, Path(where)), job.declared, where)
    if b"\r\n" in raw:
        new = new.replace("\n", "\r\n")
    mark = b"\xef\xbb\xbf" if raw.startswith(b"\xef\xbb\xbf") else b""
    return mark + new.encode()


def merged(text: str, values: Mapping[str, Any], where: str = "job") -> str:
    """Change the text of a TOML file where it holds other values than these.

    Raises
    ------
    JobError
        If the text is not TOML, or laid out in a way that does not let them in.
    """
    file = Path(where)
    values_of(text, file)
    document = tomlkit.parse(text)
    above, end = _comments_above(document)
    _update(document, values, top=True)
    for header, comments in above:
        header.trivia.indent = comments + header.trivia.indent
    new = tomlkit.dumps(document) + end
    if values_of(new, file) != values:
        raise JobError(
            "the changes do not fit into the layout of this file",
            where=where,
            todo="write its tables in the order stock, profile, checks, cutting, each under its "
            "[name] and in one place",
        )
    return new


def _comments_above(document: Container) -> tuple[list[tuple[Table, str]], str]:
    """Take out the comments above each table's header, and those at the very end.

    The parser counts them to the table before: new keys would come after them,
    and they would go when that table goes. What stands above a header, back to
    the last blank line, belongs to it.
    """
    above, held = [], ""
    for body, stop, header in _sections(document, None):
        if header is not None:
            above.append((header, held))
        held = _cut_end(body, stop)
    return above, held


def _sections(container: Container, header: Table | None) -> Iterator[Section]:
    """List every table in the order of the text: its items, how many are its own, its header."""
    body = container.body
    inner = [i for i, (key, item) in enumerate(body) if _has_header(key, item)]
    if header is None or not header.is_super_table():
        yield body, inner[0] if inner else len(body), header
    for i in inner:
        item = body[i][1]
        for table in item.body if isinstance(item, AoT) else [item]:
            assert isinstance(table, Table)
            yield from _sections(table.value, table)


def _has_header(key: Key | None, item: Item) -> bool:
    return isinstance(item, AoT) or (
        isinstance(item, Table) and key is not None and not key.is_dotted()
    )


def _cut_end(body: Body, stop: int) -> str:
    """Take away the last blank lines before a place, and the comments after them."""
    start = stop
    while start and isinstance(body[start - 1][1], Comment):
        start -= 1
    at_end = stop == len(body)
    while start and isinstance(body[start - 1][1], Whitespace):
        start -= 1
    cut = "".join(item.as_string() for _, item in body[start:stop])
    if at_end:
        del body[start:]
    else:
        body[start:stop] = [(None, Whitespace(""))] * (stop - start)
    return cut


def _update(table: Any, values: Mapping[str, Any], *, top: bool = False) -> None:
    """Make a table hold these values."""
    for key in [key for key in table if key not in values]:
        del table[key]
    for key, value in values.items():
        if key not in table or not _merge(table[key], value):
            table[key] = _item(value, table, top=top)


def _merge(old: Any, value: Any) -> bool:
    """Make an old value a new one in place; False if it has to be replaced."""
    if _same(old, value):
        return True
    if isinstance(old, Mapping) and isinstance(value, Mapping):
        if not value and isinstance(old, Table) and old.is_super_table():
            return False  # without a header of its own it would not be there at all
        _update(old, value)
        return True
    if isinstance(old, AoT | Array) and isinstance(value, list) and value:
        _align(old, value)
        return True
    return False


def _align(old: Any, values: Sequence[Any]) -> None:
    """Make a list hold these values; what is still there keeps its comments."""
    before, after = [repr(_bare(one)) for one in old], [repr(one) for one in values]
    steps = SequenceMatcher(None, before, after, autojunk=False).get_opcodes()
    for _, start, end, first, last in reversed(steps):
        both = min(end - start, last - first)
        for i in range(end - 1, start + both - 1, -1):
            del old[i]
        for i in range(both):
            if not _merge(old[start + i], values[first + i]):
                old[start + i] = _item(values[first + i], old)
        for i in range(both, last - first):
            new = _item(values[first + i], old)
            if isinstance(new, Table):
                new.trivia.indent = "\n"
            old.insert(start + i, new)


def _same(old: Any, value: Any) -> bool:
    bare = _bare(old)
    return bool(bare == value) and _kinds(bare) == _kinds(value)


def _kinds(value: Any) -> Any:
    """Tell true from 1, which are equal; whole numbers and others may be equal."""
    if isinstance(value, Mapping):
        return {key: _kinds(one) for key, one in value.items()}
    if isinstance(value, list):
        return [_kinds(one) for one in value]
    return isinstance(value, bool)


def _bare(value: Any) -> Any:
    return value.unwrap() if isinstance(value, Item) else value


def _item(value: Any, parent: Any, *, top: bool = False) -> Item:
    """Make an item of a value that is first written into a table or list."""
    if isinstance(value, Mapping):
        table = tomlkit.table() if top or isinstance(parent, AoT) else tomlkit.inline_table()
        _update(table, value)
        return table
    if isinstance(value, list):
        of_tables = value and all(isinstance(one, Mapping) for one in value)
        if of_tables and not isinstance(parent, InlineTable | Array):
            tables = tomlkit.aot()
            for one in value:
                tables.append(_item(one, tables))
            return tables
        array = tomlkit.array()
        for one in value:
            array.append(_item(one, array))
        return array
    item: Item = tomlkit.item(value)
    return item
