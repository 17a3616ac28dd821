"""A drawing that gives no outline, ready to be drawn, with what may be declared instead."""

from __future__ import annotations

from collections import Counter
from typing import Final

import numpy as np
import shapely

from silhouette3d.drawing.survey import Survey
from silhouette3d.errors import DrawingError
from silhouette3d.output.survey_picture import marks_of
from silhouette3d.workbench.cards import path_data
from silhouette3d.workbench.result import LooseMark, Offered, Refused

__all__ = ["refused_of"]

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
