"""A part worked out step by step, each step named while it lasts."""

from __future__ import annotations

import shlex
from collections import Counter
from pathlib import Path
from typing import TYPE_CHECKING

from silhouette3d.cli.terminal import complain, remark, step
from silhouette3d.errors import SilhouetteError

if TYPE_CHECKING:
    from silhouette3d import Finding, Part

__all__ = ["count_text", "point_to_findings", "work_out"]


def work_out(job: Path) -> Part:
    """The part of a job file, its drawings read and its solid made."""
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
    """What there is to look at before cutting."""
    with step("cutting on trial"):
        _ = part.stages
    with step("measuring thickness") as part.progress:
        _ = part.thin
    with step("checking"):
        return part.findings


def point_to_findings(part: Part, job: Path) -> None:
    """One line on standard error if `check` has errors or warnings to show."""
    try:
        found = [one for one in findings_of(part) if one.is_to_mend]
    except SilhouetteError as error:
        complain(str(error))
        return
    if found:
        command = shlex.join(["silhouette3d", "check", str(job)])
        complain(f"{count_text(found)}: run `{command}`")


def count_text(findings: list[Finding] | tuple[Finding, ...]) -> str:
    """How many there are of each severity, in words.

    >>> from silhouette3d.checks.finding import Finding
    >>> count_text([Finding("witness", "note"), Finding("weak-tab", "warning")])
    '1 warning, 1 note'
    """
    found = Counter[str](one.severity for one in findings if one.accepted is None)
    kinds = [kind for kind in ("error", "warning", "note") if found[kind]]
    told = [f"{found[kind]} {kind}{'s' * (found[kind] > 1)}" for kind in kinds]
    accepted = sum(one.accepted is not None for one in findings)
    return ", ".join(told + [f"{accepted} accepted"] * bool(accepted)) or "none"
