"""What is noted on a library's failure while it rises: the innermost knows best."""

from __future__ import annotations

import pytest
from shapely.errors import GEOSException

from silhouette3d.geometry.backend_errors import BackendError, calling_engine, doing, profile_named

LOST = "TopologyException: found non-noded intersection. And more\nand more"


@doing("carving")
@profile_named("top")
def lost() -> None:
    raise GEOSException(LOST)


@calling_engine()
def given_up() -> None:
    raise RuntimeError("of a test")


def test_the_innermost_notes_stay() -> None:
    with pytest.raises(BackendError) as caught, doing("cutting"), profile_named("front"):
        lost()
    assert (caught.value.task, caught.value.profile) == ("carving", "top")
    assert caught.value.reason == "TopologyException: found non-noded intersection"
    assert isinstance(caught.value.cause, GEOSException)


def test_what_is_missing_is_noted_further_out() -> None:
    with pytest.raises(BackendError) as caught, doing("cutting"), profile_named("front"):
        given_up()
    assert (caught.value.task, caught.value.profile) == ("cutting", "front")


def test_one_note_does_not_reach_the_next_failure() -> None:
    with pytest.raises(BackendError), profile_named("front"):
        raise GEOSException(LOST)
    with pytest.raises(BackendError) as caught, doing("measuring"):
        raise GEOSException(LOST)
    assert caught.value.profile is None


@pytest.mark.parametrize("kind", [RuntimeError, RecursionError, ValueError, MemoryError])
def test_other_errors_rise_as_they_are(kind: type[Exception]) -> None:
    fault = kind("ours")
    with pytest.raises(kind) as caught, doing("cutting"), profile_named("front"):
        raise fault
    assert caught.value is fault


@pytest.mark.parametrize("kind", [RecursionError, NotImplementedError, KeyError])
def test_only_a_bare_runtime_error_is_the_engines(kind: type[Exception]) -> None:
    with pytest.raises(kind), calling_engine():
        raise kind("ours")
