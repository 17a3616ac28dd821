"""All that is said about findings: a sentence on what is so, one on what to do, in any unit.

A finding is data. In the modules of this room each code has a function that words it; numbers
go through a `Scale`, so that one finding can be told in mm, in inches or in both.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Final

from silhouette3d.base.codes import Code
from silhouette3d.base.quantities import Scale
from silhouette3d.checks.finding import Finding
from silhouette3d.presentation.wording import cuts, part
from silhouette3d.presentation.wording import drawings as drawn
from silhouette3d.presentation.wording.part import empty_part
from silhouette3d.presentation.wording.several import told_together
from silhouette3d.presentation.wording.words import Told

__all__ = ["WORDS", "Told", "empty_part", "told"]

WORDS: Final[Mapping[Code, Callable[[Finding, Scale], Told]]] = {
    **drawn.WORDS,
    **part.WORDS,
    **cuts.WORDS,
}
"""For each code its words."""


def told(finding: Finding, scale: Scale) -> Told:
    """Word a finding.

    Parameters
    ----------
    finding : Finding
        What there is to say.
    scale : Scale
        In what unit.

    Raises
    ------
    KeyError
        If its code has no words.
    """
    words = _told(finding, scale)
    if finding.accepted is not None:
        return words._replace(advice=f"accepted: {finding.accepted}")
    return words


def _told(finding: Finding, scale: Scale) -> Told:
    lone = WORDS[finding.code]
    return told_together(finding, scale, lone) if finding.members else lone(finding, scale)
