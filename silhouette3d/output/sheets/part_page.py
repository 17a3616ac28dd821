"""Page 1: what part it is, what it weighs, and whether it may be cut."""

from __future__ import annotations

from typing import Any, Final

from silhouette3d.checks.finding import Finding
from silhouette3d.number import percent
from silhouette3d.output.picture.caption import counts
from silhouette3d.output.sheets.gallery import NO_PICTURE, Gallery
from silhouette3d.output.sheets.part_pictures import part_picture, view_pictures
from silhouette3d.part import Part
from silhouette3d.quantity import Scale
from silhouette3d.theme import SEVERITY, SIGNS
from silhouette3d.turning import LETTERS

Row = tuple[str, str]

_PICTURE: Final = (82.0, 68.0)
_VIEWS: Final = 58.0
"""mm of paper: room of the shaded picture, and height of the three views."""

EXACT: Final = ", exact for the outlines as drawn"

CANNOT: Final = "the cuts cannot be simulated"


def part_page(
    part: Part,
    findings: tuple[Finding, ...],
    trouble: str,
    gallery: Gallery,
    width: float,
    say: Scale,
) -> dict[str, Any]:
    """What the template needs for page 1.

    Parameters
    ----------
    part : Part
        What is made.
    findings : tuple of Finding
        Worst first.
    trouble : str
        Why the cuts cannot be simulated, or nothing.
    gallery : Gallery
        Draws the pictures.
    width : float
        mm of paper between the margins.
    say : Scale
        Tells numbers.
    """
    return {
        "facts": facts(part, say),
        "picture": part_picture(part, gallery, _PICTURE),
        "no_picture": NO_PICTURE,
        "views": view_pictures(part, gallery, (width, _VIEWS)),
        "setups": _setups(part),
        "reasons": reasons(part, findings, trouble, say),
        "counts": ["not checked"] if trouble else [words for _, _, words in counts(findings)],
        "findings": [_row(part, f, say) for f in findings if not _forbids(f)],
        "notes": [
            f"{spec.drawing}: {note}."
            for profile, spec in zip(part.profiles, part.job.profile, strict=True)
            for note in profile.outline.notes
        ],
    }


def reasons(
    part: Part, findings: tuple[Finding, ...], trouble: str, say: Scale
) -> list[dict[str, str]]:
    """Why the part must not be cut: a code, what is wrong, what to do; none if it may be."""
    errors = [_row(part, finding, say) for finding in findings if _forbids(finding)]
    if trouble:
        errors.insert(0, {"code": CANNOT, "message": trouble, "advice": ""} | _SIGN)
    return errors


_SIGN: Final = {"sign": SIGNS["error"], "colour": SEVERITY["error"], "severity": "error"}


def _forbids(finding: Finding) -> bool:
    """Whether a finding forbids cutting: an error that the job does not accept."""
    return finding.severity == "error" and finding.is_to_mend


def _row(part: Part, finding: Finding, say: Scale) -> dict[str, str]:
    return {
        "sign": SIGNS[finding.severity],
        "colour": SEVERITY[finding.severity],
        "severity": ("accepted " if finding.accepted else "") + finding.severity,
        "code": finding.code,
        **part.told(finding, say)._asdict(),
    }


def facts(part: Part, say: Scale) -> list[Row]:
    """Size, mass, material and stock, each with its word."""
    measures, error = part.measures, part.measures.mass_error
    bodies = len(part.solid.bodies)
    named = part.material.name if part.material else part.job.stock.material or "of its own"
    rows = [
        ("Size", say.lengths(part.solid.size)),
        ("Mass", say.mass_within(measures.mass, error) + EXACT * (not error)),
        ("Shipping weight", f"{say.parcel(measures.mass)}, one part without packing"),
        ("Volume", say.volume(measures.volume)),
        ("Centre of mass", say.axes(measures.centre) + ", from the stock's origin"),
        ("Material", named),
        ("Density", say.density(part.density)),
        ("Density from", part.material.source if part.material else "the job file"),
        ("Stock", _stock(part, say)),
        ("Stock weighs", say.mass(part.stock_mass)),
        ("Cut away", f"{percent(part.share_removed)} of the stock"),
    ]
    if bodies > 1:
        rows.insert(0, ("Pieces", str(bodies)))
    return rows


def _stock(part: Part, say: Scale) -> str:
    stock = part.stock
    if stock.diameter is None:
        return f"block {say.lengths(stock.size)}"
    return (
        f"round bar, diameter {say.length(stock.diameter)}, "
        f"length {say.length(stock.length)}, along {stock.along}"
    )


def _setups(part: Part) -> list[str]:
    """The setups in one line each."""
    drawings = {n: spec.drawing for n, spec in zip(part.job.names, part.job.profile, strict=True)}
    return [f"{i}  {name}: {drawings[name]}" for i, name in enumerate(part.job.order, start=1)]


SIDES: Final = ", ".join(f"{letter} {name}" for name, letter in LETTERS.items())
"""Every side of the block with its letter."""
