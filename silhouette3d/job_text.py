"""The text of a job file, and the values that TOML says it holds."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path
from typing import Any, Final

from silhouette3d.errors import JobError

__all__ = ["read_text", "values_of"]

_PLAIN_WORDS: Final = (
    (r"Cannot overwrite a value", "this key stands there a second time"),
    (r"Cannot declare .* twice", "this table stands there a second time"),
    (r"Illegal character '\\n'", 'the line ends before the closing "'),
    (r"Unterminated string", 'the closing " is missing'),
    (r"Invalid value", 'there is no value that makes sense: text stands in "quotes"'),
    (r"Invalid statement", "a line must be a comment, a [table] or key = value"),
    (r"Expected '=' after a key.*", "the = after the key is missing"),
    (r"Expected newline or end of document.*", "the line goes on after its value"),
    (r"Unclosed array", "the closing ] is missing"),
    (r"Unclosed inline table", "the closing } is missing"),
    (r"Unescaped '\\'.*", r'a \ in "quotes" must be doubled; or write the text in single quotes'),
)
"""What the reader of TOML says, and what that means for somebody who wrote the file."""


def read_text(path: Path) -> str:
    """The text of a job file, its line ends made one character.

    Raises
    ------
    JobError
        If the file is not there, cannot be read or is not UTF-8.
    """
    data = b""
    try:
        data = path.read_bytes()
        return data.decode("utf-8-sig").replace("\r\n", "\n")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise JobError(
            "the file is not UTF-8 text", where=f"{path}, line {line}", todo="save it as UTF-8"
        ) from None
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
        reason, where = "lists are nested too deeply", ""
    except ValueError as error:  # a TOMLDecodeError, or a whole number of thousands of digits
        reason, where = _reason(str(error))
    raise JobError(
        f"this is not TOML: {reason}",
        where=f"{path}{where}",
        todo="correct the file; how TOML is written: https://toml.io",
    )


def _reason(message: str) -> tuple[str, str]:
    """The reader's complaint in plain words, and where in the file it is."""
    told, line, column = message, "", ""
    if at := re.fullmatch(r"(.*) \(at line (\d+), column (\d+)\)", message, re.DOTALL):
        told, line, column = at.groups()
    told = next((ours for theirs, ours in _PLAIN_WORDS if re.match(theirs, told)), told)
    return told.partition(";")[0] if not line else told, f", line {line}, column {column}" * bool(
        line
    )
