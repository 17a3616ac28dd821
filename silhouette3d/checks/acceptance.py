"""Findings that a job accepts, each with its reason."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from silhouette3d.checks.finding import Finding
from silhouette3d.codes import Code


@dataclass(frozen=True)
class Acceptance:
    """What is accepted.

    Parameters
    ----------
    code : Code
        Of the findings.
    profile : str, optional
        The profile they must be about, or have a part in; any if there is none.
    reason : str
        Why it is as it should be.
    """

    code: Code
    profile: str | None
    reason: str

    def covers(self, finding: Finding) -> bool:
        """Whether a finding is accepted by this."""
        return self.code == finding.code and (
            self.profile is None or self.profile in finding.subjects
        )


def accepted(findings: Iterable[Finding], acceptances: Sequence[Acceptance]) -> tuple[Finding, ...]:
    """Give each finding the reason for which it is accepted, if it is."""
    return tuple(
        replace(one, accepted=reason) if (reason := _reason(one, acceptances)) else one
        for one in findings
    )


def unused(findings: Iterable[Finding], acceptances: Sequence[Acceptance]) -> tuple[Finding, ...]:
    """Find acceptances of what is not found any more."""
    found = [*findings]
    return tuple(
        Finding(
            "accept-unused",
            "note",
            one.profile,
            facts={"code": one.code, "reason": one.reason},
        )
        for one in acceptances
        if not any(one.covers(finding) for finding in found)
    )


def _reason(finding: Finding, acceptances: Sequence[Acceptance]) -> str | None:
    return next((one.reason for one in acceptances if one.covers(finding)), None)
