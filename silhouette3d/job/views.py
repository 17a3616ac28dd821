"""Views as they are declared: what is wrong with one is told as an error of the job."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Final

from numpy.typing import ArrayLike

from silhouette3d.errors import JobError
from silhouette3d.geometry import frames
from silhouette3d.geometry.frames import View
from silhouette3d.geometry.misfit import MisfitError

__all__ = ["view_along", "view_from"]


def view_along(look: ArrayLike, up: ArrayLike, name: str = "") -> View:
    """Make a view of one's own from any look and any up that is not along it.

    `up` is made square to `look`; neither need be of unit length. Without a
    name it gets the words of the view by angle that it is, if it is one.

    Raises
    ------
    JobError
        If a vector has no direction or the two are parallel.

    Examples
    --------
    >>> view_along((1, 1, 0), (0, 0, 1)).name
    'front, turned −45°'
    """
    with _in_words():
        return frames.view_along(look, up, name)


def view_from(side: str, turned: float = 0.0, tipped: float = 0.0) -> View:
    """Make a view by angle: a named view, turned about the block's upright axis, then tipped.

    Parameters
    ----------
    side : str
        One of the six names.
    turned : float
        Degrees by which the eye walks round the block about z, counter-clockwise
        as seen from above; the drawing goes with it.
    tipped : float
        Degrees by which the eye is then raised above the horizontal, or lowered
        where negative; from -90 to 90, and 0 from the top or the bottom.

    Returns
    -------
    View
        Exact for multiples of 30 and 45 degrees; a named one where it is that.

    Raises
    ------
    JobError
        If a view from the top or the bottom is tipped, or one by more than 90.

    Examples
    --------
    >>> view_from("front", 37).name, view_from("front", 90).name
    ('front, turned 37°', 'right')
    """
    with _in_words():
        return frames.view_from(side, turned, tipped)


_HOW_TO_TIP: Final = (
    "begin with a view that is seen level and tip it by up to 90 degrees, up or down: "
    'from = "front", tipped = 60 leans 30 degrees from the top'
)


@contextmanager
def _in_words() -> Iterator[None]:
    try:
        yield
    except MisfitError as error:
        raise _error(error) from None


def _error(f: MisfitError) -> JobError:
    if f.code == "view-not-level":
        what = f"a view from the {f.subject} cannot be tipped: the eye is straight above or below"
        return JobError(what, todo=_HOW_TO_TIP)
    if f.code == "view-tipped-too-far":
        degrees = f"{f.numbers[0]:g}".replace("-", "−")
        return JobError(f"{degrees}° is more than a quarter turn", todo=_HOW_TO_TIP)
    if f.code == "view-up-along-look":
        up, look = (_text(vector) for vector in (f.numbers[:3], f.numbers[3:]))
        return JobError(
            f"the up vector {up} runs along the look vector {look}",
            todo="choose an up that points up on the drawing",
        )
    what = f"the {f.subject} vector of a view has no direction"
    return JobError(what, todo="give three numbers")


def _text(vector: tuple[float, ...]) -> str:
    return "(" + ", ".join(f"{value:g}" for value in vector) + ")"
