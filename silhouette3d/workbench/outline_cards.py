"""Cards: each profile over the stock's face, or a drawing that gives no outline."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from typing import TYPE_CHECKING, Final

import numpy as np
import shapely
from shapely import Polygon

from silhouette3d.checks.contradictions import wider_than
from silhouette3d.documents.pictures.outline import marks_of
from silhouette3d.drawing.outline.survey import Survey
from silhouette3d.errors import DrawingError
from silhouette3d.geometry.frames import Array
from silhouette3d.process.cut import Cut
from silhouette3d.process.profile import Profile
from silhouette3d.workbench.result import Card, LooseMark, LostRegion, Offered, Refused, TabMark

if TYPE_CHECKING:
    from silhouette3d.part import Part

# --- Cards: each profile over the stock's face, as SVG path data


DIGITS: Final = 3
"""Decimals of a coordinate in mm: a thousandth is far below a pixel at any zoom."""


def plain_card(profile: Profile, part: Part, i: int) -> Card:
    """Draw what can be drawn as soon as the profile is placed."""
    shadow = part.stock.shadow(profile.view)
    width, height = profile.face.size
    around = np.array([profile.area, shapely.box(0.0, 0.0, width, height)], dtype=object)
    u0, v0, u1, v1 = (float(x) for x in shapely.total_bounds(around))
    spec = part.job.profile[i]
    view = profile.name if profile.name == profile.view.plain_name else profile.view.name
    return Card(
        name=profile.name,
        view=view,
        drawing=spec.drawing,
        box=(u0, v0, u1 - u0, v1 - v0),
        face=path_data(shadow),
        face_size=(width, height),
        outline=path_data(profile.area),
        notes=profile.outline.notes,
        overlaps=profile.outline.overlaps.areas if profile.outline.overlaps else (),
    )


def full_card(card: Card, part: Part, i: int) -> Card:
    """Complete a card with the cut's path, the part's shadow, what is lost, and the tabs."""
    profile, cut = part.profiles[i], part.cuts[i]
    declared = len(part.job.profile[i].tab)
    drawn = len(cut.tabs) - declared
    lost = wider_than(part.lost(profile.name), part.job.checks.match)
    shadow = part.shadow(profile.name)
    return replace(
        card,
        path=path_data(cut.path),
        shadow=path_data(shadow),
        lost=tuple(LostRegion(path_data(region), float(region.area)) for region in lost),
        tabs=tuple(_mark(cut, k, k - drawn if k >= drawn else None) for k in range(len(cut.tabs))),
    )


def _mark(cut: Cut, k: int, index: int | None) -> TabMark:
    tab = cut.tabs[k]
    return TabMark(tab.at, tab.width, path_data(cut.strip(tab)), index)


def path_data(shape: shapely.Geometry) -> str:
    """Write SVG path data of lines or borders of areas, in the shape's own coordinates.

    >>> path_data(shapely.box(0, 0, 2, 1.5))
    'M2 0L2 1.5L0 1.5L0 0Z'
    """
    return "".join(_line(points, closed) for points, closed in _lines(shape))


def _lines(shape: shapely.Geometry) -> Iterator[tuple[Array, bool]]:
    for part in shapely.get_parts(shape):
        lines = [part]
        if isinstance(part, Polygon):
            lines = [part.exterior, *part.interiors]
        for line in lines:
            closed = bool(shapely.is_closed(line))
            points = shapely.get_coordinates(line)
            yield (points[:-1] if closed else points), closed


def _line(points: Array, closed: bool) -> str:
    if not len(points):
        return ""
    tidy = (np.round(points, DIGITS) + 0.0).tolist()
    return "M" + "L".join(f"{u:.7g} {v:.7g}" for u, v in tidy) + "Z" * closed


# --- A drawing that gives no outline, ready to be drawn, with what may be declared instead


MOST_POINTS: Final = 20_000
"""Of lines that are drawn on a card; of a drawing with more only the places to look at are."""


def refused_of(error: Exception) -> Refused | None:
    """Give what a page shows of a refusal, if it is about a survey of a profile's drawing."""
    if not isinstance(error, DrawingError) or not isinstance(error.about, Survey):
        return None
    survey, marks = error.about, marks_of(error.about)
    points = np.concatenate(survey.lines)
    (u0, v0), (u1, v1) = points.min(axis=0).tolist(), points.max(axis=0).tolist()
    lines = [shapely.LineString(line) for line in survey.lines if len(line) > 1]
    kinds = Counter(mark.kind.words for mark in marks)
    return Refused(
        error.profile,
        (u0, v0, u1 - u0, v1 - v0),
        path_data(shapely.MultiLineString(lines)) if len(points) <= MOST_POINTS else "",
        path_data(survey.region) if len(points) <= MOST_POINTS else "",
        tuple(LooseMark(mark.number, mark.at, mark.kind.words) for mark in marks),
        tuple(f"{count} × {words}" for words, count in kinds.items()),
        tuple(Offered(offer.key, offer.value, offer.area) for offer in survey.offers),
    )
