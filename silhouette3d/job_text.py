"""The text of a job file, and the values that TOML says it holds."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path
from typing import Any, Final

from silhouette3d.errors import JobError
from silhouette3d.files import read_bytes
from silhouette3d.limits import JOB_MB

__all__ = ["read_text", "text_of", "values_of"]

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
    """The text of a job file, its line ends made one character.

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
    """The text that the bytes of a job file say, its line ends made one character.

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
    """The values that a job file holds.

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
    """The reader's complaint in plain words, and where in the file it is."""
    told, _, at = message.rpartition(" (at ")
    place = at.rstrip(")")
    if not place.startswith("line"):
        place = f"line {len(text.rstrip().splitlines())}"
    told = next((ours for theirs, ours in _PLAIN_WORDS if re.match(theirs, told)), told or message)
    return told, f", {place}"
