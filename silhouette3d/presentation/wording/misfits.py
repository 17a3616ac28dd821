"""Word what cannot be done as it is drawn or declared, and what was taken for granted."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from typing import Final, NamedTuple

from silhouette3d.base.limits import FARTHEST
from silhouette3d.base.quantities import Scale
from silhouette3d.base.units import Unit, figure, length_text
from silhouette3d.errors import CuttingError, DrawingError, PlacementError, SilhouetteError
from silhouette3d.geometry.misfit import MisfitCode, MisfitError
from silhouette3d.planning.order import MOST_CUTS
from silhouette3d.process.profile import Assumption, Profile

__all__ = ["assumed_in_words", "misfit_in_words", "misfits_in_words"]


def assumed_in_words(profile: Profile) -> Iterator[str]:
    """Word what nobody said of a drawing and was taken for granted."""
    words: Mapping[Assumption, str] = {
        "unit": f"states no unit: taken as {profile.unit.words}",
        "page on face": "its page is as large as the stock's face and was laid on it",
        "centred": "has no stock rectangle and no datum: centred on the stock's face",
    }
    return (words[one] for one in profile.assumed)


class _Words(NamedTuple):
    kind: type[SilhouetteError]
    what: str
    todo: str


@contextmanager
def misfits_in_words(unit: Unit, where: str) -> Iterator[None]:
    """Have what does not fit told like any other error.

    Parameters
    ----------
    unit : {"mm", "in"}
        For lengths.
    where : str
        The job, and in it the profile.

    Raises
    ------
    CuttingError, DrawingError, PlacementError
        As the misfit is one of cuts, of a drawing, or of an outline on the stock.
    """
    try:
        yield
    except MisfitError as error:
        raise misfit_in_words(error, unit, where) from None


def misfit_in_words(error: MisfitError, unit: Unit, where: str) -> SilhouetteError:
    """Word one of them but those of views, which the job words; parameters as above."""
    words = _WORDS[error.code](error, unit)
    return words.kind(words.what, where=where, todo=words.todo)


def _outline_too_long(f: MisfitError, unit: Unit) -> _Words:
    return _Words(
        PlacementError,
        f"the outline is {figure(f.numbers[0], 6)} mm long as placed, and "
        f"more than {figure(FARTHEST)} mm is not taken",
        "check scale and units of this profile in the job",
    )


def _layer_missing(f: MisfitError, unit: Unit) -> _Words:
    return _Words(
        DrawingError,
        f"there is nothing on a layer {f.subject!r}",
        "layers with something on them: " + ", ".join(map(repr, f.others)),
    )


def _stock_not_upright(f: MisfitError, unit: Unit) -> _Words:
    u0, v0, u1, v1 = (figure(mm, 6) for mm in f.numbers)
    return _Words(
        DrawingError,
        f"the stock on layer {f.subject!r} is not one upright rectangle; it reaches from "
        f"({u0}, {v0}) to ({u1}, {v1})",
        "draw the stock's face as a rectangle, the end of a round bar also as a circle; "
        "or name another layer as stock_layer",
    )


def _tab_astray(f: MisfitError, unit: Unit) -> _Words:
    what = f.subject or f"the tab at {_point(f, unit)}"
    return _Words(
        CuttingError,
        f"{what} touches no outline: it is {length_text(f.numbers[0], unit)} off the nearest one",
        "move it onto the outline",
    )


def _tab_too_wide(f: MisfitError, unit: Unit) -> _Words:
    width, apart = (length_text(mm, unit) for mm in f.numbers)
    return _Words(
        CuttingError,
        f"a tab of {width} does not fit at {_point(f, unit)}: the cut runs too close beside "
        f"itself there to stop twice, {apart} apart with the kerf",
        "make the tab narrower, or put it elsewhere",
    )


def _tab_too_long(f: MisfitError, unit: Unit) -> _Words:
    width, whole = (length_text(mm, unit) for mm in f.numbers)
    return _Words(
        CuttingError,
        f"a tab of {width} is as long as the whole cut of {whole}",
        "make the tab narrower",
    )


def _tab_off_path(f: MisfitError, unit: Unit) -> _Words:
    return _Words(
        CuttingError,
        f"{f.subject} covers no stretch of a cut: the nearest path, half a kerf beside its "
        f"outline, is {length_text(f.numbers[0], unit)} off",
        "draw it right across the outline and the kerf",
    )


def _tab_leaves_nothing(f: MisfitError, unit: Unit) -> _Words:
    apart, kerf = (length_text(mm, unit) for mm in f.numbers)
    return _Words(
        CuttingError,
        f"{f.subject} leaves nothing standing: the cut stops on either side of it {apart} apart "
        f"and is {kerf} wide",
        "put the tab elsewhere, or make it wider",
    )


def _clamp_off_face(f: MisfitError, unit: Unit) -> _Words:
    *pad, width, height = (length_text(mm, unit) for mm in f.numbers)
    told = ", ".join(one.split()[0] for one in pad)
    return _Words(
        CuttingError,
        f"clamp {f.count}, [{told}] {unit}, presses on nothing of the face of {width} × {height}",
        "give u0, v0, u1, v1 from the face's lower left corner, smaller ones first",
    )


def _too_many_cuts(f: MisfitError, unit: Unit) -> _Words:
    return _Words(
        CuttingError,
        f"there are {f.count} profiles; orders are tried for up to {MOST_CUTS}",
        "give the order in the job file and look at its stages",
    )


def _point(f: MisfitError, unit: Unit) -> str:
    assert f.at is not None  # what is told by its place has one
    return Scale(unit).point(f.at)


_WORDS: Final[Mapping[MisfitCode, Callable[[MisfitError, Unit], _Words]]] = {
    "outline-too-long": _outline_too_long,
    "layer-missing": _layer_missing,
    "stock-not-upright": _stock_not_upright,
    "tab-astray": _tab_astray,
    "tab-too-wide": _tab_too_wide,
    "tab-too-long": _tab_too_long,
    "tab-off-path": _tab_off_path,
    "tab-leaves-nothing": _tab_leaves_nothing,
    "clamp-off-face": _clamp_off_face,
    "too-many-cuts": _too_many_cuts,
}
