"""The words by which findings are known: in messages, in job files and in tables."""

from __future__ import annotations

from typing import Final, Literal, get_args

Code = Literal[
    "stock-mismatch",
    "unit-doubtful",
    "overlapping-loops",
    "nearly-coincident",
    "outside-stock",
    "extent-mismatch",
    "shadow-lost",
    "several-bodies",
    "point-contact",
    "thin-in-view",
    "thin-section",
    "knife-edge",
    "heavy-stock",
    "no-datum",
    "clamp-in-path",
    "start-on-wall",
    "released-early",
    "not-released",
    "part-broken",
    "loose-offcut",
    "small-offcut",
    "weak-tab",
    "weak-hold",
    "witness",
    "inside-corner",
    "narrow-slot",
    "accept-unused",
]

CODES: Final[tuple[Code, ...]] = get_args(Code)
"""All of them, as the README lists them."""
