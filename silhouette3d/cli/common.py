"""Common parts of commands: output, progress, options, a part worked out step by step."""

from __future__ import annotations

import io
import math
import os
import re
import shlex
import sys
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

from cyclopts import Parameter, Token

from silhouette3d.base.quantities import GRAMS_PER, HEAVY, Units
from silhouette3d.base.units import Unit
from silhouette3d.errors import SilhouetteError

if TYPE_CHECKING:
    from rich.console import RenderableType

    from silhouette3d import Finding, Part

# --- Standard output and error: what is shown, what is said, and progress on a terminal


PIPE_WIDTH = 100
"""Columns of a table that does not go to a terminal."""


def lenient() -> None:
    """Write characters that the terminal's encoding does not have as their numbers."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")


def say(text: str) -> None:
    """Write a line on standard output."""
    print(text)


def complain(text: str) -> None:
    """Write a line on standard error."""
    print(f"silhouette3d: {text}", file=sys.stderr)


def remark(text: str) -> None:
    """Write a line on standard error where that is a terminal; nothing in a pipe."""
    if sys.stderr.isatty():
        complain(text)


def print_json(value: Any) -> None:
    """Write a value as JSON on standard output."""
    import json

    print(json.dumps(value, indent=2, allow_nan=False))


def show_table(*parts: RenderableType) -> None:
    """Write tables and texts on standard output, as wide as the terminal."""
    from rich.console import Console

    class Quiet(Console):
        def on_broken_pipe(self) -> None:
            raise BrokenPipeError

    fixed = None if sys.stdout.isatty() or "COLUMNS" in os.environ else PIPE_WIDTH
    console = Quiet(file=sys.stdout, width=fixed, highlight=False, markup=False, emoji=False)
    for part in parts:
        console.print(part)


@contextmanager
def step(doing: str) -> Iterator[Callable[[int, int], None]]:
    """Show on a terminal, while it lasts, what is being done; say nothing in a pipe.

    Yields a function to be told how much of how much is done.
    """
    if not sys.stderr.isatty():
        yield lambda done, total: None
        return
    from rich.console import Console

    with Console(stderr=True, highlight=False, markup=False).status(f"{doing} …") as status:
        yield lambda done, total: status.update(f"{doing} … {done / max(total, 1):.0%}")


def drop_output() -> None:
    """Throw away what is still to be written on standard output, where it cannot be."""
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, sys.stdout.fileno())
    os.close(nowhere)


# --- What several commands take: JSON, units, a mass


AsJson = Annotated[bool, Parameter("--json")]
InUnits = Annotated[Units | None, Parameter("--units")]


@dataclass(frozen=True)
class Weight:
    """A mass as somebody wrote it.

    Parameters
    ----------
    number : float
        How much.
    unit : str
        Of it: g, kg, oz, lb, or nothing.
    """

    number: float
    unit: str

    def grams(self, unit: Unit) -> float:
        """Read the mass; a bare number is in the heavy unit that goes with a unit of length."""
        return self.number * GRAMS_PER[self.unit or HEAVY[unit][0]]


def _weight(_: type, tokens: Sequence[Token]) -> Weight:
    found = re.fullmatch(rf"\s*([^a-z]+?)\s*({'|'.join(GRAMS_PER)}|)\s*", tokens[0].value)
    try:
        number = float(found[1]) if found else math.nan
    except ValueError:
        number = math.nan
    if not found or not 0.0 <= number < math.inf:
        raise ValueError("a mass is wanted, such as 0.5, 0.5kg or 8oz.")
    return Weight(number, found[2])


Mass = Annotated[Weight | None, Parameter(converter=_weight, n_tokens=1, accepts_keys=False)]


# --- A part worked out step by step, each step named while it lasts


def work_out(job: Path) -> Part:
    """Work out the part of a job file: its drawings read and its solid made."""
    with step("starting"):
        import silhouette3d

        part = silhouette3d.load(job)
    part.say = remark
    with step(f"reading {len(part.job.profile)} drawings"):
        _ = part.profiles
    with step("cutting the stock down to the outlines"):
        _ = part.solid
    return part


def findings_of(part: Part) -> tuple[Finding, ...]:
    """Find what there is to look at before cutting."""
    with step("cutting on trial"):
        _ = part.stages
    with step("measuring thickness") as part.progress:
        _ = part.thin
    with step("checking"):
        return part.findings


def point_to_findings(part: Part, job: Path) -> None:
    """Write one line on standard error if `check` has errors or warnings to show."""
    try:
        found = [one for one in findings_of(part) if one.is_to_mend]
    except SilhouetteError as error:
        complain(str(error))
        return
    if found:
        command = shlex.join(["silhouette3d", "check", str(job)])
        complain(f"{count_text(found)}: run `{command}`")


def count_text(findings: list[Finding] | tuple[Finding, ...]) -> str:
    """Count findings of each severity, in words.

    >>> from silhouette3d.checks.finding import Finding
    >>> count_text([Finding("witness", "note"), Finding("weak-tab", "warning")])
    '1 warning, 1 note'
    """
    found = Counter[str](one.severity for one in findings if one.accepted is None)
    kinds = [kind for kind in ("error", "warning", "note") if found[kind]]
    told = [f"{found[kind]} {kind}{'s' * (found[kind] > 1)}" for kind in kinds]
    accepted = sum(one.accepted is not None for one in findings)
    return ", ".join(told + [f"{accepted} accepted"] * bool(accepted)) or "none"
