"""Page 1: what part it is, what it weighs, and whether it may be cut."""

from __future__ import annotations

from typing import Any, Final

from silhouette3d.checks.finding import Finding
from silhouette3d.output.picture.caption import counts
from silhouette3d.output.sheets.figures import Figures
from silhouette3d.output.sheets.gallery import NO_PICTURE, Gallery
from silhouette3d.output.sheets.part_pictures import part_picture, view_pictures
from silhouette3d.part import Part
from silhouette3d.theme import SEVERITY, SIGNS
from silhouette3d.turning import LETTERS

Row = tuple[str, str]

_PICTURE: Final = (82.0, 68.0)
_VIEWS: Final = 58.0
"""mm of paper: room of the shaded picture, and height of the three views."""

CANNOT: Final = "the cuts cannot be simulated"


def part_page(
    part: Part, findings: tuple[Finding, ...], trouble: str, gallery: Gallery, width: float
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
    """
    return {
        "facts": facts(part),
        "picture": part_picture(part, gallery, _PICTURE),
        "no_picture": NO_PICTURE,
        "views": view_pictures(part, gallery, (width, _VIEWS)),
        "setups": _setups(part),
        "reasons": reasons(part, findings, trouble),
        "counts": ["not checked"] if trouble else [words for _, _, words in counts(findings)],
        "findings": [_row(part, f) for f in findings if f.severity != "error"],  # those are reasons
        "notes": [
            f"{spec.drawing}: {note}."
            for profile, spec in zip(part.profiles, part.job.profile, strict=True)
            for note in profile.outline.notes
        ],
    }


def reasons(part: Part, findings: tuple[Finding, ...], trouble: str) -> list[dict[str, str]]:
    """Why the part must not be cut: a code, what is wrong, what to do; none if it may be."""
    errors = [_row(part, finding) for finding in findings if finding.severity == "error"]
    if trouble:
        errors.insert(0, {"code": CANNOT, "message": trouble, "advice": ""} | _SIGN)
    return errors


_SIGN: Final = {"sign": SIGNS["error"], "colour": SEVERITY["error"], "severity": "error"}


def _row(part: Part, finding: Finding) -> dict[str, str]:
    return {
        "sign": SIGNS[finding.severity],
        "colour": SEVERITY[finding.severity],
        "severity": finding.severity,
        "code": finding.code,
        **part.told(finding)._asdict(),
    }


def facts(part: Part) -> list[Row]:
    """Size, mass, material and stock, each with its word."""
    figures, measures = Figures(part.job.units), part.measures
    bodies = len(part.solid.bodies)
    named = part.material.name if part.material else part.job.stock.material or "of its own"
    rows = [
        ("Size", figures.lengths(part.solid.size)),
        ("Mass", figures.mass_within(measures.mass, measures.mass_error)),
        ("Shipping weight", f"{figures.parcel(measures.mass)}, one part without packing"),
        ("Volume", figures.volume(measures.volume)),
        ("Centre of mass", figures.point(measures.centre) + ", from the stock's origin"),
        ("Material", named),
        ("Density", figures.density(part.density)),
        ("Density from", part.material.source if part.material else "the job file"),
        ("Stock", _stock(part, figures)),
        ("Stock weighs", figures.mass(part.stock_mass)),
        ("Cut away", f"{part.share_removed:.1%} of the stock"),
    ]
    if bodies > 1:
        rows.insert(0, ("Pieces", str(bodies)))
    return rows


def _stock(part: Part, figures: Figures) -> str:
    stock = part.stock
    if stock.diameter is None:
        return f"block {figures.lengths(stock.size)}"
    return (
        f"round bar, diameter {figures.length(stock.diameter)}, "
        f"length {figures.length(stock.length)}, along {stock.along}"
    )


def _setups(part: Part) -> list[str]:
    """The setups in one line each."""
    drawings = {n: spec.drawing for n, spec in zip(part.job.names, part.job.profile, strict=True)}
    return [f"{i}  {name}: {drawings[name]}" for i, name in enumerate(part.job.order, start=1)]


SIDES: Final = ", ".join(f"{letter} {name}" for name, letter in LETTERS.items())
"""Every side of the block with its letter."""
