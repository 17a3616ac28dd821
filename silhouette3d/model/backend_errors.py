"""What the engines under the geometry give up on, told in words.

shapely, manifold3d and scipy work on outlines that people drew, and once in many
thousand one defeats them. That is no fault of who called them, so it is told like any
other error. Everything else that is not a `SilhouetteError` is a fault of this program
and is let through as it is.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from functools import cached_property, wraps
from traceback import walk_tb
from types import FrameType, FunctionType
from typing import Final, ParamSpec, TypeVar

from silhouette3d.errors import GeometryError
from silhouette3d.job.model import Job
from silhouette3d.process.cut import Cut
from silhouette3d.process.profile import Profile

__all__ = ["in_words", "told_in_words"]

P = ParamSpec("P")
R = TypeVar("R")


T = TypeVar("T")

_HOUSE: Final = "silhouette3d"

_DOING: Final = {
    "drawing": "reading an outline",
    "process.profile": "placing an outline",
    "geometry.subtract": "cutting the stock down to the outlines",
    "geometry": "measuring the part",
    "checks": "checking the part",
    "process": "cutting on trial",
    "planning": "cutting on trial",
    "documents": "drawing",
}
"""What each module or room of the package is busy with: the first one that a name begins with."""


def in_words(error: Exception) -> GeometryError | None:
    """What an engine gave up on, or None if the error is something else.

    Parameters
    ----------
    error : Exception
        As it was caught: its traceback tells what was being done, for which profile of
        which job.
    """
    frames = [frame for frame, _ in walk_tb(error.__traceback__) if _module(frame)[0] == _HOUSE]
    places = [_module(frame)[1] for frame in frames]
    if not _is_of_engine(error, places):
        return None
    doing = next(
        (
            words
            for at in places
            for room, words in _DOING.items()
            if f"{at}.".startswith(f"{room}.")
        ),
        "working out the part",
    )
    name = _profile(frames)
    job = next((job for values in _given(frames) for job in map(_job, values) if job), None)
    reason = str(error).strip().partition("\n")[0].partition(". ")[0].rstrip(".")
    return GeometryError(
        f"{name}: the geometry engine gave up while {doing}: {reason}"
        if name
        else f"the geometry engine gave up while {doing}: {reason}",
        where=str(job.path or "job") if job else "",
        todo=f"shift {name or 'one of the outlines'} by a hundredth of a millimetre, or redraw "
        "it where points or lines nearly coincide; if that does not help, report it with the "
        "job and its drawings",
    )


def _is_of_engine(error: Exception, places: Sequence[str]) -> bool:
    """Whether shapely, scipy's qhull or manifold3d raised it.

    manifold3d has no error of its own: it is a bare RuntimeError out of the only room
    that knows it.
    """
    from scipy.spatial import QhullError
    from shapely.errors import GEOSException

    if isinstance(error, GEOSException | QhullError):
        return True
    return type(error) is RuntimeError and bool(places) and places[-1].startswith("geometry.")


def _module(frame: FrameType) -> tuple[str, str]:
    """Name the package and the module that a frame runs in."""
    package, _, inner = str(frame.f_globals.get("__name__", "")).partition(".")
    return package, inner


def _given(frames: Sequence[FrameType]) -> Iterator[list[object]]:
    """What each function was given, the innermost first."""
    for frame in reversed(frames):
        code = frame.f_code
        names = code.co_varnames[: code.co_argcount + code.co_kwonlyargcount]
        yield [frame.f_locals.get(name) for name in names]


def _profile(frames: Sequence[FrameType]) -> str:
    """The profile that the innermost function was given which was given any; nothing for two."""
    for values in _given(frames):
        names = {value.name for value in values if isinstance(value, Profile | Cut)}
        if names:
            return names.pop() if len(names) == 1 else ""
    return ""


def _job(value: object) -> Job | None:
    """Of a part, or of what else has one."""
    job = getattr(value, "job", None)
    return job if isinstance(job, Job) else None


def told_in_words(kind: type[T]) -> type[T]:
    """Have all that a class of parts answers tell in words what an engine gives up on."""
    for name, member in list(vars(kind).items()):
        if name.startswith("_"):
            continue
        if isinstance(member, cached_property):
            member.func = _told(member.func)
        elif isinstance(member, property) and member.fget is not None:
            setattr(kind, name, property(_told(member.fget)))
        elif isinstance(member, FunctionType):
            setattr(kind, name, _told(member))
    return kind


def _told(query: Callable[P, R]) -> Callable[P, R]:
    @wraps(query)
    def asked(*given: P.args, **named: P.kwargs) -> R:
        try:
            return query(*given, **named)
        except Exception as error:
            words = in_words(error)
            if words is None:
                raise
            raise words from error

    return asked
