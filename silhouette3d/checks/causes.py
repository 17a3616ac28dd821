"""Bring findings of one cause together, and set aside what a job accepts with its reason."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

from silhouette3d.base.codes import Code
from silhouette3d.base.quantities import Quantity
from silhouette3d.checks.finding import Finding

# --- Findings that a job accepts, each with its reason


@dataclass(frozen=True)
class Acceptance:
    """Acceptance of findings that are as they should be.

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
        """Tell whether a finding is accepted by this."""
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


# --- Bring findings that have one cause together: one finding with its members and their places
#
# Mirrored pairs, series of like offcuts and the same disagreement along several slanted
# directions are one thing to a person who mends a job. What belongs together is told by code,
# severity, whether it is accepted, and a rule for each code: what must be the same, and which
# quantities must be alike. Nothing is lost: the one finding holds the others as its members.


ALIKE: Final = 0.02
"""Share by which quantities may differ and be alike."""


@dataclass(frozen=True)
class Rule:
    """Rule by which findings of one code have one cause.

    Parameters
    ----------
    same : callable
        Gives what must be equal.
    alike : tuple of str
        Quantities that must be alike.
    summed : tuple of str
        Quantities that add up.
    leads : str
        The quantity by which the one to be told first is found: the largest.
    """

    same: Callable[[Finding], Hashable] = lambda f: f.profile
    alike: tuple[str, ...] = ()
    summed: tuple[str, ...] = ()
    leads: str = ""


def one_for_each_cause(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Bring together what has one cause, each where its first was.

    Parameters
    ----------
    findings : iterable of Finding
        Without members.
    """
    groups: list[list[Finding]] = []
    for one in findings:
        home = next((group for group in groups if _belongs(one, group)), None)
        if home is None:
            groups.append([one])
        else:
            home.append(one)
    return tuple(map(_one, groups))


def _belongs(one: Finding, group: Sequence[Finding]) -> bool:
    """Tell whether a finding has the cause of a group."""
    other = group[0]
    if (one.code, one.severity, one.accepted) != (other.code, other.severity, other.accepted):
        return False
    if _is_slanted(one) or _is_slanted(other):
        return _is_slanted(one) and _is_slanted(other)
    rule = RULES.get(one.code, _LIKE)
    alike = rule.alike if rule is not _LIKE else tuple(one.quantities)
    return rule.same(one) == rule.same(other) and all(
        _alike(one.quantities[name], other.quantities[name]) for name in alike
    )


def _is_slanted(finding: Finding) -> bool:
    """Tell whether it is a disagreement along none of the block's axes.

    Each pair of slanted views shares a direction of its own, so that one outline that is too
    long disagrees with every other, along another direction each time.
    """
    return finding.code == "extent-mismatch" and finding.facts["axis"] not in {"x", "y", "z"}


def culprit(mismatches: Sequence[Finding]) -> str:
    """Name the outline that disagrees the most with the others, all its disagreements summed."""
    sums = Counter[str]()
    for one in mismatches:
        for name in one.subjects:
            sums[name] += one.quantities["off"].number  # type: ignore[assignment]
    return sums.most_common(1)[0][0]


def _alike(one: Quantity, other: Quantity) -> bool:
    return all(
        abs(a - b) <= ALIKE * max(abs(a), abs(b))
        for a, b in zip(one.values, other.values, strict=True)
    )


def _one(members: Sequence[Finding]) -> Finding:
    """Put some findings of one cause into one, the one that leads first."""
    if len(members) == 1:
        return members[0]
    rule = RULES.get(members[0].code, _LIKE)
    lead = members[0]
    if rule.leads:
        lead = max(members, key=lambda one: one.quantities[rule.leads].number)
    rest = [one for one in members if one is not lead]
    subjects = dict.fromkeys(name for one in members for name in one.subjects)
    profiles = {one.profile for one in members}
    profile = lead.profile if len(profiles) == 1 else None
    if _is_slanted(lead):
        profile = culprit(members)
    stages = {one.stage for one in members}
    summed = {
        name: Quantity(sum(one.quantities[name].number for one in members), of.dimension)
        for name, of in lead.quantities.items()
        if name in rule.summed
    }
    return replace(
        lead,
        profile=profile,
        others=tuple(name for name in subjects if name != profile),
        stage=lead.stage if len(stages) == 1 else None,
        places=tuple(place for one in (lead, *rest) for place in one.places),
        quantities={**lead.quantities, **summed},
        members=(lead, *rest),
    )


def _anything(_: Finding) -> Hashable:
    return None


def _walls(finding: Finding) -> Hashable:
    return tuple(sorted(finding.facts["walls"]))


def _unit_meant(finding: Finding) -> Hashable:
    """Tell what would mend a drawing's size; nothing in common where nothing is known to."""
    facts = finding.facts
    return (facts["units"], facts["scale"]) if facts.get("ratio", True) else finding.profile


_LIKE: Final = Rule(same=lambda f: (f.profile, f.others, f.stage, f.facts))
"""For codes without a rule of their own: all is the same, and every quantity alike."""

RULES: Final[Mapping[Code, Rule]] = {
    "stock-mismatch": Rule(same=_unit_meant),
    "unit-doubtful": Rule(same=_unit_meant),
    "extent-mismatch": Rule(
        same=lambda f: (f.facts["axis"], f.others), alike=("off", "extent"), leads="off"
    ),
    "shadow-lost": Rule(summed=("area", "share"), leads="area"),
    "point-contact": Rule(same=lambda f: f.facts["itself"], alike=("length",)),
    "thin-in-view": Rule(alike=("thickness",)),
    "thin-section": Rule(same=_walls, alike=("thickness",)),
    "knife-edge": Rule(same=_anything, alike=("angle",)),
    "loose-offcut": Rule(same=_anything, summed=("mass",), leads="largest"),
    "small-offcut": Rule(same=_anything, summed=("mass",), leads="largest"),
    "weak-tab": Rule(same=_anything, alike=("area",)),
    "witness": Rule(same=_anything, leads="volume"),
    "inside-corner": Rule(same=_anything, alike=("radius",), summed=("area",), leads="area"),
    "narrow-slot": Rule(alike=("width",)),
}
