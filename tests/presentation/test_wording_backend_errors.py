"""What shapely, manifold3d and qhull give up on reaches people in words; our own faults do not.

The engines are broken on purpose: from some call on, every one of them raises its own
kind of error. A sound run first counts the calls that a question takes.
"""

from __future__ import annotations

import inspect
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import manifold3d
import numpy as np
import pytest
import scipy.spatial
import shapely
from shapely import Polygon
from shapely.errors import GEOSException

import silhouette3d
from silhouette3d.cli import main
from silhouette3d.documents.pictures import window
from silhouette3d.errors import GeometryError, PictureError, SilhouetteError
from silhouette3d.geometry import stable_poses as standing
from silhouette3d.part import Answer
from silhouette3d.presentation.wording.backend_errors import told_in_words
from silhouette3d.workbench.computation import AFTER_PART, first_result
from silhouette3d.workbench.result import Trouble
from tests.support.shapes import Shape, write_job

SHAPELY = (
    *(
        "boundary",
        "buffer",
        "covered_by",
        "difference",
        "distance",
        "dwithin",
        "intersection",
    ),
    *("line_interpolate_point", "line_locate_point", "line_merge", "make_valid"),
    *("maximum_inscribed_circle", "minimum_clearance", "minimum_rotated_rectangle"),
    *("point_on_surface", "segmentize", "set_precision", "shortest_line", "simplify"),
    *("union", "union_all"),
)
"""Those the package calls that do more than hand over coordinates."""

MANIFOLD = ("__sub__", "__xor__", "compose", "min_gap", "project", "simplify", "transform")

FOOT = Polygon([(3, 3), (17, 3), (13, 17), (6, 16)])
PILLAR = Shape((20, 20, 20), {"front": FOOT, "right": FOOT}, volume=0, area=0)


class Engines:
    """The engines, counted, and broken from a call on if that is told."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.calls = 0
        self.sound: float = np.inf
        """How many calls go well before all fail."""
        self.error: Exception | None = None
        """Raised instead of their own errors, if given."""
        for name in SHAPELY:
            self._watch(monkeypatch, shapely, name, GEOSException("TopologyException: of a test"))
        for name in MANIFOLD:
            self._watch(monkeypatch, manifold3d.Manifold, name, RuntimeError("of a test"))
        self._watch(monkeypatch, manifold3d, "triangulate", RuntimeError("of a test"))
        hull = scipy.spatial.QhullError("of a test")
        self._watch(monkeypatch, standing, "ConvexHull", hull)

    def _watch(
        self, monkeypatch: pytest.MonkeyPatch, owner: Any, name: str, error: Exception
    ) -> None:
        function = getattr(owner, name)

        def watched(*given: Any, **named: Any) -> Any:
            self.calls += 1
            if self.calls > self.sound:
                raise self.error or type(error)(*error.args)
            return function(*given, **named)

        monkeypatch.setattr(owner, name, watched)

    def count(self, ask: Callable[[], object]) -> int:
        self.calls, self.sound = 0, np.inf
        ask()
        return self.calls

    def heal(self) -> None:
        self.sound = np.inf

    def fail_after(self, calls: int) -> None:
        self.calls, self.sound = 0, calls


@pytest.fixture
def engines(monkeypatch: pytest.MonkeyPatch) -> Engines:
    return Engines(monkeypatch)


@pytest.fixture(scope="module")
def job(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Slanted walls, one of them across the block, a kerf, a tab and a clamp."""
    slanted = {"look": [1, 1, 0], "up": [0, 0, 1]}
    return write_job(
        tmp_path_factory.mktemp("pillar"),
        PILLAR,
        profiles={
            "front": {"tab": [{"at": [10, 3]}]},
            "right": {"view": slanted, "name": "across", "shift": [4, 0]},
        },
        cutting={"kerf": 0.5},
    )


# Every question a part answers.

PLAIN = {"density", "material", "name", "order_of_cuts", "stock", "stock_mass"}
"""Questions that need no engine."""

ABOUT = {"accepts", "scale", "scale_in", "told", "with_tabs", "without_tabs"}
"""Questions about what one has already, which need none either."""

GIVEN: dict[str, tuple[Any, ...]] = {
    "export": ("pillar.stl",),
    "lost": ("front",),
    "page": ("pillar.html",),
    "picture": ("pillar.png",),
    "picture_outline": ("front", "pillar.png"),
    "picture_stages": ("pillar.png",),
    "picture_thin": ("pillar.png",),
    "profile": ("front",),
    "setups": ("setups",),
    "shadow": ("front",),
    "sheets": ("pillar.pdf",),
}
"""What methods are to be given; files lie in a folder of the test's own."""


def is_asked(member: object) -> bool:
    return isinstance(member, Answer | property) or inspect.isfunction(member)


QUESTIONS = [
    name
    for name, _ in inspect.getmembers(silhouette3d.Part, is_asked)
    if not name.startswith("_") and name not in {"again", "job", "progress", "say", *ABOUT, *PLAIN}
]


def ask(part: silhouette3d.Part, name: str) -> object:
    answer = getattr(part, name)
    return answer(*GIVEN.get(name, ())) if callable(answer) else answer


DRAWN = {"page", "picture", "picture_stages", "picture_thin", "sheets"}
"""Those that take a second and more: broken at the first call, and right after the solid."""


@pytest.mark.parametrize("name", QUESTIONS)
def test_what_an_engine_gives_up_on_is_told_in_words(
    name: str, engines: Engines, job: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(window, "show", lambda part: part.solid.bodies)
    count = engines.count(lambda: ask(silhouette3d.load(job), "solid" if name in DRAWN else name))
    assert count > 0
    if name == "picture_thin":
        count -= 1  # no engine is asked for thin places
    for before in {0, count} if name in DRAWN else {0, count // 2, count - 1}:
        part = silhouette3d.load(job)
        engines.fail_after(before)
        with pytest.raises(GeometryError, match="the geometry engine gave up while ") as caught:
            ask(part, name)
        assert caught.value.where == str(job)
        assert "of a test" in caught.value.what
        assert "hundredth of a millimetre" in caught.value.todo
        assert isinstance(caught.value.__cause__, GEOSException | RuntimeError)
    engines.heal()
    if name in DRAWN:
        assert list(tmp_path.iterdir()) == []


def test_plain_questions_need_no_engine(engines: Engines, job: Path) -> None:
    part = silhouette3d.load(job)
    assert engines.count(lambda: [ask(part, name) for name in PLAIN]) == 0


# The command line.


@pytest.mark.parametrize(
    "command", ["weigh", "check", "stages", "order", "tabs", "thickness", "sheets"]
)
@pytest.mark.parametrize("share", [0.0, 0.5, 1.0])
def test_commands_say_it_and_end(
    command: str,
    share: float,
    engines: Engines,
    job: Path,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
) -> None:
    file = tmp_path / "pillar.pdf"
    words = [command, str(job), *(["-o", str(file)] if command == "sheets" else ["--json"])]
    counted = ["stages", str(job)] if command == "sheets" else words
    count = engines.count(lambda: main(counted))
    capsys.readouterr()
    engines.fail_after(round(share * (count - 1)))
    status = main(words)
    out, err = capsys.readouterr()
    assert status == 2
    # `tabs` asks for its exit status after its table
    assert out == "" or (command == "tabs" and json.loads(out))
    assert err.startswith(f"silhouette3d: {job}: ")
    assert "the geometry engine gave up while" in err
    assert "Traceback" not in err
    assert err.count("\n") == 1
    assert not file.exists()


def test_an_engine_that_fails_only_in_the_table_is_told_too(
    job: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Some values are worked out when they are shown, past all that a part answers itself."""

    def fail(pose: standing.Pose) -> float:
        raise GEOSException("TopologyException: found non-noded intersection. And more")

    monkeypatch.setattr(standing.Pose, "tipping_angle", property(fail))
    assert main(["weigh", str(job)]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err.startswith(
        f"silhouette3d: {job}: the geometry engine gave up while measuring the part: "
        "TopologyException: found non-noded intersection. Shift one of the outlines"
    )


# The workbench.


def test_the_workbench_gets_it_in_words_at_every_step(engines: Engines, job: Path) -> None:
    def all_steps() -> None:
        result = first_result(1, silhouette3d.read_job(job), None)
        for step in AFTER_PART:
            result = step(result)

    count = engines.count(all_steps)
    for before in np.linspace(0, count - 1, 12).astype(int):
        engines.fail_after(int(before))
        with pytest.raises((GeometryError, GEOSException, RuntimeError)) as caught:
            all_steps()
        trouble = Trouble.of(caught.value, "cuts")
        assert trouble.kind == "cuts"
        assert trouble.where == str(job)
        assert "the geometry engine gave up while" in trouble.what


# Faults of our own.

FAULTS = [
    TypeError,
    ValueError,
    AssertionError,
    KeyError,
    RecursionError,
    NotImplementedError,
    MemoryError,
]


@pytest.mark.parametrize("kind", FAULTS)
def test_a_fault_of_our_own_stays_what_it_is(
    kind: type[Exception], engines: Engines, job: Path
) -> None:
    count = engines.count(lambda: silhouette3d.load(job).solid)
    engines.error = fault = kind("ours")
    for question in (lambda: silhouette3d.load(job).solid, lambda: main(["weigh", str(job)])):
        engines.fail_after(count // 2)
        with pytest.raises(kind) as caught:
            question()
        assert caught.value is fault


def test_a_bare_runtime_error_counts_only_out_of_the_room_of_the_engine(
    job: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Python has some of its own: a dictionary that changed while it was walked through."""

    def shrinking(*given: object, **named: object) -> None:
        table = {1: 1}
        for key in table:
            del table[key]
            table[key + 1] = 1

    monkeypatch.setattr("silhouette3d.model.results.orders", shrinking)
    with pytest.raises(RuntimeError, match="dictionary"):
        silhouette3d.load(job).order()


# Real ones, and their words.

BOW = Polygon([(0, 0), (2, 2), (2, 0), (0, 2)])


def test_the_words_of_shapely(job: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A polygon that crosses itself is what shapely cannot intersect."""
    part = silhouette3d.load(job)
    _ = part.solid
    monkeypatch.setattr(shapely, "set_precision", lambda *_: shapely.intersection(BOW, BOW))
    with pytest.raises(GeometryError) as caught:
        part.shadow("front")
    assert str(caught.value) == (
        f"{job}: front: the geometry engine gave up while checking the part: TopologyException: "
        "side location conflict at 1 1. Shift front by a hundredth of a millimetre, or redraw it "
        "where points or lines nearly coincide; if that does not help, report it with the job "
        "and its drawings."
    )


def test_the_words_of_qhull(job: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A flat part has no hull with a volume."""
    hull = scipy.spatial.ConvexHull
    monkeypatch.setattr(standing, "ConvexHull", lambda points: hull(points * [1, 1, 0]))
    with pytest.raises(GeometryError) as caught:
        _ = silhouette3d.load(job).standing
    assert caught.value.what == (
        "the geometry engine gave up while measuring the part: QH6154 Qhull precision error: "
        "Initial simplex is flat (facet 1 is coplanar with the interior point)"
    )
    assert caught.value.todo.startswith("shift one of the outlines by ")


def test_the_profile_is_named_where_it_is_known(engines: Engines, job: Path) -> None:
    for name in ("front", "across"):
        part = silhouette3d.load(job)
        _ = part.solid
        engines.fail_after(0)
        with pytest.raises(GeometryError, match=f"^[^:]*: {name}: "):
            part.shadow(name)
        engines.heal()


def test_of_two_profiles_none_is_blamed(job: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where a function is given two, either may be it."""
    part = silhouette3d.load(job)
    _ = part.profiles

    def fail(*_: object) -> None:
        raise GEOSException("of a test")

    monkeypatch.setattr(np, "cross", fail)
    with pytest.raises(GeometryError) as caught:
        _ = part.shared_axes
    assert caught.value.what == ("the geometry engine gave up while checking the part: of a test")


def test_errors_in_words_stay_as_they_are() -> None:
    for error in (GeometryError("told"), PictureError("told"), SilhouetteError("told")):
        with pytest.raises(SilhouetteError) as caught, told_in_words("job"):
            raise error
        assert caught.value is error
