"""Regions: from a solid to its thin places, thinnest first."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Final

import numpy as np

from silhouette3d.geometry.frames import Array
from silhouette3d.geometry.solid import Solid
from silhouette3d.geometry.thickness.definition import ThinRegion, cap, check_limit, spacing
from silhouette3d.geometry.thickness.sampling import Indices, Surface
from silhouette3d.geometry.true_curves import NO_CURVES, TrueCurves

if TYPE_CHECKING:
    from silhouette3d.geometry.thickness.bvh import BallScene
    from silhouette3d.geometry.thickness.chords import TrueWalls


_BAND: Final = 0.15
"""Spacings of samples by which a ball may be too large and yet be followed to where it is not."""


def _quiet(done: int, total: int) -> None:
    """Drop progress that nobody watches."""


def _unheard() -> None:
    """Do nothing where nobody waits."""


def thin_regions(
    solid: Solid,
    limit: float,
    curves: TrueCurves = NO_CURVES,
    *,
    progress: Callable[[int, int], None] = _quiet,
    compiling: Callable[[], None] = _unheard,
) -> tuple[ThinRegion, ...]:
    """Find every wall, neck and knife edge of a solid that is thinner than a limit.

    A section is thin where two caliper jaws, facing each other within 44 degrees
    and with only material between them, close to less than the limit; the
    reading is the diameter of the ball that just fits there. Precisely: the
    thickness at a point p of the surface is the diameter of the smallest ball
    tangent there, on the material's side, that touches an opposed point q. The
    way from p to q lies in the material, and within β = 22 degrees of the inward
    normal at p and of the outward normal at q (at an edge or corner: of one of
    its fan of normals). Walls that meet at an ordinary corner do not face each
    other and never count; an edge of 44 degrees or less is a knife edge and
    always counts.

    Parameters
    ----------
    solid : Solid
        In mm.
    limit : float
        In mm.
    curves : TrueCurves
        What its walls stand for; where they do, the curves decide. Points of a region lie
        on the walls of the solid all the same.
    progress : callable
        Called with how many samples are measured and how many there are.
    compiling : callable
        Called before machine code is made, which takes some seconds, once.

    Returns
    -------
    tuple of ThinRegion
        Thinnest first; knife edges, whose thickness is 0, by their angle.

    Raises
    ------
    ValueError
        If the limit is not a positive number.

    Notes
    -----
    Balls in a solid: T. Hildebrand and P. Rüegsegger, J. Microscopy 185 (1997)
    67-75. Leaving out walls that do not face each other: M. Foskey, M. C. Lin and
    D. Manocha, Efficient computation of a simplified medial axis, ACM Solid
    Modeling 2003. A ball tangent at a point, shrunk until it is empty: J. Ma,
    S. W. Bae and S. Choi, Visual Computer 28 (2012) 7-19.
    """
    check_limit(limit)
    if solid.is_empty:
        return ()
    _warn(compiling)
    from silhouette3d.geometry.thickness.assembly import assembled
    from silhouette3d.geometry.thickness.chords import TrueWalls, settled, thin_chords
    from silhouette3d.geometry.thickness.sampling import surface_of

    surface, most = surface_of(solid.mesh), cap(limit)
    true = TrueWalls.of(surface, curves)
    scene = _scene(surface, limit, true)
    wider = most + _BAND * spacing(limit) + (2.0 * true.wider if true is not None else 0.0)
    chords, h = thin_chords(surface, scene, wider, spacing(limit), progress, true)
    chords = settled(surface, scene, chords, most, h, true)
    return tuple(sorted(assembled(surface, scene, chords, h, true), key=_thinnest_first))


def thickness_field(
    solid: Solid,
    limit: float,
    curves: TrueCurves = NO_CURVES,
    *,
    progress: Callable[[int, int], None] = _quiet,
    compiling: Callable[[], None] = _unheard,
) -> tuple[Array, Indices, Array]:
    """Measure the thickness at points spread over the surface, for a coloured picture.

    Parameters
    ----------
    solid, limit, curves, progress, compiling
        As for `thin_regions`.

    Returns
    -------
    points : (n, 3) array
        In mm.
    triangle : (n,) array of int
        Of the solid's mesh, on which each lies; every triangle that has a
        direction has one point at least.
    thickness : (n,) array
        In mm; `limit` where it is that thick or thicker.

    Raises
    ------
    ValueError
        If the limit is not a positive number.
    """
    check_limit(limit)
    parts = [(np.empty((0, 3)), np.empty(0, np.int64), np.empty(0))]
    if solid.is_empty:
        return parts[0]
    _warn(compiling)
    from silhouette3d.geometry.thickness.chords import TrueWalls, measured
    from silhouette3d.geometry.thickness.sampling import WallSamples, surface_of

    surface = surface_of(solid.mesh)
    samples = WallSamples(surface, spacing(limit))
    true = TrueWalls.of(surface, curves)
    scene = _scene(surface, limit, true)
    for some in measured(samples, scene, float(limit), progress, true):
        here = some.samples
        parts.append((here.points, surface.triangle[here.triangle], some.size))
    points, triangle, size = (np.concatenate(columns) for columns in zip(*parts, strict=True))
    return points, triangle, size


def _scene(surface: Surface, limit: float, true: TrueWalls | None) -> BallScene:
    """Make a surface ready for a search as wide as its true walls need."""
    from silhouette3d.geometry.thickness.bvh import scene_of

    limit += _BAND * spacing(limit)
    if true is None:
        return scene_of(surface, limit)
    return scene_of(surface, limit + 3.0 * true.wider, true.curves.turn, true.edge >= 0)


def _warn(compiling: Callable[[], None]) -> None:
    """Call back where the machine code is not made yet."""
    from silhouette3d.geometry.machine_code import is_kept
    from silhouette3d.geometry.thickness.ball_search import smallest_balls

    if not is_kept(smallest_balls):
        compiling()


def _thinnest_first(region: ThinRegion) -> tuple[float, ...]:
    """Sort by thickness, then angle, then place, so that the order is always one."""
    angle = 0.0 if region.angle is None else region.angle
    return round(region.thickness, 6), round(angle, 6), *(float(x) for x in np.round(region.at, 6))
