"""Stages: the block after every cut, which bodies there are, what is held, what is loose.

Problem: for any order of n cuts, tell after each cut which bodies are there and which hold.

Method: what is left of the stock depends on which cuts were made, not on their order; what is held
depends on the setup as well, and what is still there on what was lifted out before. So solids come
from one `Carving`, one for each set of cuts that is asked for, and each order of cuts is a walk
from one `State` to the next.

Invariant: whoever asks, a step from one state by one cut is worked out once; so `stages` and the
search for an order tell one and the same.

Complexity: at most 2ⁿ solids, not n!; the thickness along a path is a sum over the triangles above
and below each of its samples, found by a tree.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import combinations
from typing import Final, Literal

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon

from silhouette3d.geometry.frames import Array
from silhouette3d.geometry.polygons import cross
from silhouette3d.geometry.solid import Solid, homes, together
from silhouette3d.geometry.stock import Stock
from silhouette3d.geometry.subtract import Carving
from silhouette3d.geometry.tolerances import MERGE
from silhouette3d.process.clamping import Clamp, Clamping, areas_on_sides, covered
from silhouette3d.process.cut import Cut
from silhouette3d.process.leads import USUAL, Driving, tabs_seen
from silhouette3d.process.runs import Run, runs_of
from silhouette3d.process.strength import MOST_AT_ONCE, Direction, Hold, Joints, directions

# --- What a cut takes: the thickness to cut through, the cut area


SPACING: Final = 0.5
"""mm. Along the path the thickness is taken this often at least."""

_ASIDE: Final = 3.1e-7
"""mm. Samples are moved aside by this, so that none lies exactly on an edge of the mesh."""

_AT_ONCE: Final = 20_000
"""Triangles searched at a time, to keep the lists of candidates short."""


@dataclass(frozen=True)
class StageFigures:
    """Thickness to cut through at a stage, and area of the cut.

    Parameters
    ----------
    stock_thickness : float
        Full depth of the stock along the view in mm.
    most, least : float
        Material along the path in mm, where there is any.
    area : float
        Length times thickness in mm²: what sets the time.
    """

    stock_thickness: float
    most: float
    least: float
    area: float


def figures(cut: Cut, bodies: Sequence[Solid]) -> StageFigures:
    """Work out what a cut takes from the bodies that are there before it."""
    points, steps = _samples(cut.cut_path)
    thick = thickness(cut, bodies, points)
    there = thick[thick > MERGE]  # less is grazed, at an edge
    return StageFigures(
        cut.profile.face.thickness,
        float(there.max()) if there.size else 0.0,
        float(there.min()) if there.size else 0.0,
        float(thick @ steps),
    )


def seen(cut: Cut, bodies: Sequence[Solid]) -> MultiPolygon:
    """Project bodies along a cut's view, into its face coordinates."""
    return cut.profile.to_face(together(bodies).shadow(cut.profile.view))


def cut_area(cut: Cut, bodies: Sequence[Solid]) -> float:
    """Work out only length times thickness in mm² of what a cut takes."""
    points, steps = _samples(cut.cut_path)
    return float(thickness(cut, bodies, points) @ steps)


def thickness(cut: Cut, bodies: Sequence[Solid], points: Array) -> Array:
    """Measure material in mm along the view at points (n, 2) in face coordinates.

    The sum over the triangles above and below a point of their height, those
    that face the eye counted positive.
    """
    total = np.zeros(len(points))
    view = cut.profile.view
    spots = points + cut.profile.face.corner + _ASIDE * np.array([1.0, 0.618])
    tree = shapely.STRtree(np.asarray(shapely.points(spots)))
    corners = [view.to_view(body.mesh.vertices)[body.mesh.triangles] for body in bodies]
    every = np.concatenate([np.empty((0, 3, 3)), *corners])
    every = every[_doubled(every) != 0.0]  # walls along the view are over no point
    for first in range(0, len(every), _AT_ONCE):
        some = every[first : first + _AT_ONCE]
        low, high = some[:, :, :2].min(axis=1), some[:, :, :2].max(axis=1)
        over = _spans(low, high, spots, 0) & _spans(low, high, spots, 1)
        some, low, high = some[over], low[over], high[over]
        triangle, spot = tree.query(shapely.box(*low.T, *high.T))
        total += np.bincount(spot, _heights(some[triangle], spots[spot]), len(points))
    return total


def _spans(low: Array, high: Array, points: Array, k: int) -> NDArray[np.bool_]:
    """Tell (n,) whether coordinate k of any of some points lies within limits (n, 2)."""
    levels = np.sort(points[:, k])
    first, past = np.searchsorted(levels, low[:, k]), np.searchsorted(levels, high[:, k], "right")
    return np.asarray(first < past)


def _heights(corners: Array, points: Array) -> Array:
    """Measure height w (n,) of triangles at points (n, 2), negated from below, 0 beside them."""
    a, b, c = (corners[:, i, :2] for i in range(3))
    whole, w = _doubled(corners), corners[:, :, 2]
    second, third = cross(points - a, c - a) / whole, cross(b - a, points - a) / whole
    inside = (second >= 0.0) & (third >= 0.0) & (second + third <= 1.0)
    height = w[:, 0] + second * (w[:, 1] - w[:, 0]) + third * (w[:, 2] - w[:, 0])
    return np.where(inside, np.sign(whole) * height, 0.0)


def _doubled(corners: Array) -> Array:
    """Measure twice the area (n,) of triangles (n, 3, 3) as seen, negative from below."""
    a, b, c = (corners[:, i, :2] for i in range(3))
    return cross(b - a, c - a)


def _samples(path: shapely.Geometry) -> tuple[Array, NDArray[np.float64]]:
    """Cut a path into short pieces: the middles (n, 2), and the length of each."""
    middles, lengths = [np.empty((0, 2))], [np.empty(0)]
    for line in shapely.get_parts(shapely.segmentize(path, SPACING)):
        points = shapely.get_coordinates(line)
        middles.append((points[1:] + points[:-1]) / 2.0)
        lengths.append(np.linalg.norm(np.diff(points, axis=0), axis=1))
    return np.concatenate(middles), np.concatenate(lengths)


# --- The block after every cut: which bodies there are, what is held, what is loose


BodyStatus = Literal["part", "held", "loose"]

CRUMB: Final = 1.0
"""mm³. A loose piece smaller than this is not told: nobody finds it on the table.
Common practice, no source."""


@dataclass(frozen=True, eq=False)
class Body:
    """One connected piece at a stage.

    Parameters
    ----------
    solid : Solid
        In the block frame.
    is_held : bool
        Whether a clamp holds it.
    is_part : bool
        Whether a body of the finished part lies in it; otherwise it is an offcut.
    """

    solid: Solid
    is_held: bool
    is_part: bool

    @property
    def status(self) -> BodyStatus:
        """Part, held, or loose."""
        if self.is_part:
            return "part"
        return "held" if self.is_held else "loose"


def of_note(bodies: Iterable[Body]) -> tuple[Body, ...]:
    """Leave crumbs out."""
    return tuple(body for body in bodies if body.solid.volume >= CRUMB)


@dataclass(frozen=True, eq=False)
class Stage:
    """The state of the stock after a cut.

    Parameters
    ----------
    cut : Cut
        The cut just made.
    bodies : tuple of Body
        What is there, largest first.
    before : tuple of Solid
        What is there before the cut.
    driving : Driving
        How the cutter is driven.
    others : tuple of Cut
        The other cuts of the job, whose tabs its leads spare.
    clamp : sequence of str, or of rectangles, optional
        Where the clamps of its setup press on.
    lifted : tuple of Solid
        Offcuts lifted out before this cut.
    pieces : tuple of int
        For each body of the finished part, the index of the body that holds it.
    main : int
        Index of the body that holds the most of the finished part's volume.
    part_was_held : bool
        Whether the clamps of this setup hold the part before the cut.
    freed : tuple of Body
        Offcuts that this cut makes loose, largest first; not those loose before it.
    """

    cut: Cut
    bodies: tuple[Body, ...]
    before: tuple[Solid, ...]
    driving: Driving
    others: tuple[Cut, ...]
    clamp: Clamp | None
    lifted: tuple[Solid, ...]
    pieces: tuple[int, ...]
    main: int
    part_was_held: bool
    freed: tuple[Body, ...]

    @cached_property
    def runs(self) -> tuple[Run, ...]:
        """Runs that the cutter makes without stopping, in order."""
        return runs_of(
            self.cut,
            seen(self.cut, self.before),
            self.driving,
            tabs_seen(self.cut, self.others),
            covered(self.cut, self.clamp, self.driving.jaw),
        )

    @cached_property
    def figures(self) -> StageFigures:
        """Figures of what the cut takes."""
        return figures(self.cut, self.before)

    @property
    def part(self) -> Body:
        """The body that holds the most of the finished part's volume."""
        return self.bodies[self.main]

    @property
    def part_is_held(self) -> bool:
        """True if the clamps hold the part after the cut."""
        return self.part.is_held

    @property
    def loose(self) -> tuple[Body, ...]:
        """Offcuts that nothing holds."""
        return tuple(body for body in self.bodies if body.status == "loose")


@dataclass(frozen=True)
class State:
    """Progress of a sequence of cuts, bodies given as indices of `CutSimulation.bodies(made)`.

    Parameters
    ----------
    made : frozenset of int
        The cuts made.
    there : tuple of int
        Bodies that were not lifted out.
    loose : frozenset of int
        Those of them that lie loose.
    """

    made: frozenset[int]
    there: tuple[int, ...]
    loose: frozenset[int] = frozenset()

    @property
    def cleared(self) -> State:
        """Stage with all that lies loose lifted out."""
        return State(self.made, tuple(i for i in self.there if i not in self.loose))


@dataclass(frozen=True)
class Step:
    """One more cut.

    Parameters
    ----------
    before, after : State
        What it starts from, and what it leads to.
    index : int
        Of the cut.
    held : frozenset of int
        Bodies after it that the clamps of its setup hold.
    freed : tuple of int
        Bodies after it that lie loose and did not before, largest first.
    part_was_held, part_is_held : bool
        Whether the clamps of its setup hold the part before and after it.
    is_broken : bool
        Whether the finished part lies in several bodies after it.
    """

    before: State
    index: int
    after: State
    held: frozenset[int]
    freed: tuple[int, ...]
    part_was_held: bool
    part_is_held: bool
    is_broken: bool


class CutSimulation:
    """The cuts of a job, and what any sequence of them leads to.

    Parameters
    ----------
    stock : Stock
        The piece before cutting.
    cuts : sequence of Cut
        In the order of the job file.
    clamps : sequence of Clamp or None
        For the setup of each cut.
    finished : Solid
        The part.
    """

    def __init__(
        self,
        stock: Stock,
        cuts: Sequence[Cut],
        clamps: Sequence[Clamp | None],
        finished: Solid,
    ) -> None:
        self.stock = stock
        self.cuts = tuple(cuts)
        self.finished = finished
        self.clampings = tuple(
            Clamping(stock, cut.profile.view, clamp)
            for cut, clamp in zip(cuts, clamps, strict=True)
        )
        self._carving = Carving(stock, [cut.waste for cut in cuts])
        self._on_sides: dict[frozenset[int], Array] = {}
        self._held: dict[tuple[frozenset[int], int], frozenset[int]] = {}
        self._pieces: dict[frozenset[int], tuple[int, ...]] = {}
        self._steps: dict[tuple[State, int], Step] = {}
        self._areas: dict[tuple[frozenset[int], tuple[int, ...], int], float] = {}
        self._directions: dict[tuple[int, ...], Direction] = {}
        self._joints: dict[tuple[tuple[int, ...], ...], Joints] = {}
        self._holds: dict[tuple[frozenset[int], int], Hold] = {}

    def again(self, cuts: Sequence[Cut]) -> CutSimulation:
        """Simulate as many other cuts, all else unchanged.

        What is known of cuts that are the same objects in the same places is shared.
        """
        other = CutSimulation(self.stock, cuts, [c.clamp for c in self.clampings], self.finished)
        other._carving = self._carving.again([cut.waste for cut in cuts])
        pairs = zip(self.cuts, other.cuts, strict=True)
        same = frozenset(i for i, (one, two) in enumerate(pairs) if one is two)
        other._on_sides.update((k, v) for k, v in self._on_sides.items() if k <= same)
        other._held.update((k, v) for k, v in self._held.items() if k[0] <= same)
        other._pieces.update((k, v) for k, v in self._pieces.items() if k <= same)
        steps = self._steps.items()
        other._steps.update((k, v) for k, v in steps if k[0].made | {k[1]} <= same)
        other._areas.update((k, v) for k, v in self._areas.items() if k[0] | {k[2]} <= same)
        other._directions.update((k, v) for k, v in self._directions.items() if same.issuperset(k))
        other._holds.update((k, v) for k, v in self._holds.items() if k[0] <= same)
        return other

    def bodies(self, made: frozenset[int]) -> tuple[Solid, ...]:
        """List bodies after some cuts, offcuts left in place."""
        return self._carving.less(made).bodies

    def held(self, made: frozenset[int], setup: int) -> frozenset[int]:
        """Find which of `bodies(made)` the clamps of a setup hold."""
        if (made, setup) not in self._held:
            clamping, bodies = self.clampings[setup], self.bodies(made)
            self._held[made, setup] = clamping.held(bodies, self.on_sides(made))
        return self._held[made, setup]

    def on_sides(self, made: frozenset[int]) -> Array:
        """Measure the area in mm² of `bodies(made)` on the stock's sides, as (bodies, sides)."""
        if made not in self._on_sides:
            self._on_sides[made] = areas_on_sides(self.stock, self.bodies(made))
        return self._on_sides[made]

    def pieces(self, made: frozenset[int]) -> tuple[int, ...]:
        """Find for each body of the finished part which of `bodies(made)` it lies in."""
        if made not in self._pieces:
            found = homes(self.finished.bodies, self.bodies(made), self.stock.tolerances.stray)
            # no cut takes away anything of the part, so one body holds each piece whole; one
            # thinner than rounding may be lost with a wall, and counts with the largest body
            self._pieces[made] = tuple(np.maximum(found, 0).tolist())
        return self._pieces[made]

    def main_piece(self, made: frozenset[int]) -> int:
        """Find which of `bodies(made)` holds the most of the finished part's volume."""
        shares: dict[int, float] = {}
        for body, piece in zip(self.pieces(made), self.finished.bodies, strict=True):
            shares[body] = shares.get(body, 0.0) + piece.volume
        return max(shares, key=lambda i: shares[i])

    def stages(
        self,
        order: Sequence[int],
        *,
        clear_offcuts: bool,
        driving: Driving = USUAL,
        progress: Callable[[int, int], None] = lambda done, total: None,
    ) -> tuple[Stage, ...]:
        """Work out the stages of one order of cuts.

        Parameters
        ----------
        order : sequence of int
            Indices of the cuts.
        clear_offcuts : bool
            Whether loose offcuts are lifted out before the next cut.
        driving : Driving
            How the cutter is driven.
        progress : callable
            Told how many cuts of how many are done.
        """
        stages: list[Stage] = []
        state = self.start
        for k, index in enumerate(order):
            progress(k, len(order))
            lifted: tuple[Solid, ...] = ()
            if clear_offcuts:
                bodies = self.bodies(state.made)
                lifted = tuple(bodies[i] for i in state.there if i in state.loose)
                state = state.cleared
            step = self.step(state, index)
            stages.append(self._stage(step, lifted, driving))
            state = step.after
        return tuple(stages)

    @property
    def start(self) -> State:
        """The raw stock."""
        made: frozenset[int] = frozenset()
        return State(made, tuple(range(len(self.bodies(made)))))

    def step(self, state: State, index: int) -> Step:
        """Make one more cut, clamped as in its own setup."""
        if (state, index) not in self._steps:
            self._steps[state, index] = self._step(state, index)
        return self._steps[state, index]

    def _step(self, state: State, index: int) -> Step:
        made = state.made | {index}
        there, still_loose = self._left_of(state, index)
        held, pieces = self._held_of(made, there, index), frozenset(self.pieces(made))
        loose = [i for i in there if i not in held and i not in pieces]
        return Step(
            state,
            index,
            State(made, tuple(there), frozenset(loose)),
            held,
            tuple(i for i in loose if i not in still_loose),
            self.main_piece(state.made) in self._held_of(state.made, state.there, index),
            self.main_piece(made) in held,
            len(pieces) > 1,
        )

    def area(self, step: Step) -> float:
        """Measure length times thickness in mm² that a step has to cut."""
        before, index = step.before, step.index
        key = before.made, before.there, index
        if key not in self._areas:
            bodies = self.bodies(before.made)
            self._areas[key] = cut_area(self.cuts[index], [bodies[i] for i in before.there])
        return self._areas[key]

    def hold(self, made: frozenset[int], setup: int) -> Hold:
        """Find the least section between the part and the clamps of a setup after some cuts."""
        if (made, setup) not in self._holds:
            chosen = sorted(made)
            groups = [
                tuple(chosen[i] for i in group)
                for group in directions([self.cuts[i] for i in chosen])
            ]
            for group in groups:
                if group not in self._directions:
                    cuts = [self.cuts[i] for i in group]
                    self._directions[group] = Direction.of(cuts, group[0])
            some = combinations(groups, min(len(groups), MOST_AT_ONCE))
            found = [self._joints_of(few).hold(self.clampings[setup]) for few in some]
            self._holds[made, setup] = min(found, key=lambda hold: hold.area)
        return self._holds[made, setup]

    def _joints_of(self, groups: tuple[tuple[int, ...], ...]) -> Joints:
        if groups not in self._joints:
            made = [self._directions[group] for group in groups]
            self._joints[groups] = Joints(self.stock, made, self.cuts, self.finished)
        return self._joints[groups]

    def _stage(self, step: Step, lifted: tuple[Solid, ...], driving: Driving) -> Stage:
        cut, before, there = self.cuts[step.index], step.before, step.after.there
        made, bodies = step.after.made, self.bodies(step.after.made)
        pieces = self.pieces(made)
        found = {i: Body(bodies[i], i in step.held, i in pieces) for i in there}
        return Stage(
            cut,
            tuple(found.values()),
            tuple(self.bodies(before.made)[i] for i in before.there),
            driving,
            tuple(other for other in self.cuts if other is not cut),
            self.clampings[step.index].clamp,
            lifted,
            tuple(there.index(i) for i in pieces),
            there.index(self.main_piece(made)),
            step.part_was_held,
            tuple(found[i] for i in step.freed),
        )

    def _left_of(self, state: State, index: int) -> tuple[list[int], frozenset[int]]:
        """List bodies still there after one more cut, and those that lay loose before it."""
        before, after = self.bodies(state.made), self.bodies(state.made | {index})
        if len(state.there) == len(before) and not state.loose:
            return list(range(len(after))), frozenset()
        gone = [i for i in range(len(before)) if i not in state.there]
        others = [*gone, *sorted(state.loose)]
        found = homes(after, [before[i] for i in others], self.stock.tolerances.stray)
        left = [i for i, home in enumerate(found) if not 0 <= home < len(gone)]
        return left, frozenset(i for i in left if found[i] >= 0)

    def _held_of(self, made: frozenset[int], left: Sequence[int], setup: int) -> frozenset[int]:
        """Find which of `bodies(made)` the clamps of a setup hold when only some are left."""
        bodies = self.bodies(made)
        if len(left) == len(bodies):
            return self.held(made, setup)
        chosen = list(left)
        held = self.clampings[setup].held([bodies[i] for i in left], self.on_sides(made)[chosen])
        return frozenset(left[i] for i in held)

    @cached_property
    def all_cut(self) -> frozenset[int]:
        """Every cut."""
        return frozenset(range(len(self.cuts)))


def is_in(body: Solid, other: Solid) -> bool:
    """Tell whether a body is a piece of another, which holds all of it or nothing."""
    return other.contains(body.inner_point)
