"""Between a session and the page: what has changed in the one is shown by the other."""

from __future__ import annotations

import asyncio
import logging
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from itertools import chain
from typing import Any, Final

from silhouette3d.errors import SilhouetteError
from silhouette3d.workbench import serializers
from silhouette3d.workbench.protocol import CardForm, PageState, Scene, StripStep
from silhouette3d.workbench.result import Result, Trouble
from silhouette3d.workbench.session import Event, Session
from silhouette3d.workbench.thumbnails import Strip
from silhouette3d.workbench.view3d import Section, Wanted, labels_of, marks_of, shapes_of

log = logging.getLogger(__name__)


def _empty() -> PageState:
    """Make the state of a page before anything is there."""
    return {
        "job": None,
        "figures": None,
        "cards": [],
        "findings": [],
        "checked": False,
        "strip": [],
        "scene": {"stage": None, "number": 0, "shapes": []},
        "marks": [],
        "labels": [],
        "trouble": None,
        "refused": None,
        "busy": False,
        "conflict": False,
        "proposal": None,
        "errand": None,
        "unit": serializers.unit_of("mm"),
        "folder": None,
        "choices": serializers.choices(),
    }


OF_RESULT: Final = frozenset(
    {"figures", "cards", "findings", "checked", "strip", "scene", "marks", "labels", "refused"}
)
"""What of a page's state is of a result, and goes with it."""


class Bench:
    """Keeps the page as the session is.

    Parameters
    ----------
    session : Session
        Told to whom it is shown.
    server : trame_server.Server
        Its state is what the page shows.
    post : callable
        Has a function called on the event loop.
    """

    def __init__(self, session: Session, server: Any, post: Callable[..., object]) -> None:
        self.session = session
        self.wanted = Wanted()
        self._state = server.state
        self._strip = Strip(self._show_strip, post)
        self._tellers: dict[Event, Sequence[Callable[[], None]]] = {
            "job": [self._show_job],
            "folder": [self._show_folder],
            "unit": [self._show_unit, self._show_result, self._show_refused],
            "result": [self._show_result],
            "trouble": [self._show_trouble, self._show_refused],
            "busy": [self._show_busy],
            "disk": [self._show_job],
            "proposal": [self._show_proposal],
            "errand": [self._show_errand],
        }
        self._put(_empty())
        session.subscribe(self._tell)
        self.show_all()

    def stop(self) -> None:
        """End all work."""
        self._strip.stop()
        self.session.stop()

    def show_all(self) -> None:
        """Show everything anew."""
        with self._state:
            for show in dict.fromkeys(chain.from_iterable(self._tellers.values())):
                show()

    def want(self, wanted: Wanted) -> None:
        """Show something else of the same result."""
        self.wanted = wanted
        with self._state:
            self._show_scene()

    def complain(self, error: Exception) -> None:
        """Tell the user what went wrong in answering the page; all goes on."""
        if not isinstance(error, SilhouetteError):
            log.error("answering the page failed", exc_info=error)
        with self._state:
            self._state.trouble = serializers.trouble_values(Trouble.of(error, "value"))

    def dismiss(self) -> None:
        """Take the message of a mistake off the page; a part that cannot be had is told on."""
        trouble = self.session.trouble
        with self._state:
            lasts = trouble is not None and trouble.kind in {"part", "cuts"}
            self._state.trouble = serializers.trouble_values(trouble) if lasts else None

    def _put(self, values: PageState) -> None:
        self._state.update(dict(values))

    def _tell(self, event: Event) -> None:
        try:
            with self._state:
                for show in self._tellers[event]:
                    show()
        except Exception as error:
            self.complain(error)

    def _show_job(self) -> None:
        self._state.job = serializers.job_form(self.session)
        self._state.conflict = self.session.conflict

    def _show_folder(self) -> None:
        self._state.folder = serializers.folder_values(self.session)

    def _show_unit(self) -> None:
        self._state.unit = serializers.unit_of(self.session.unit)

    def _show_trouble(self) -> None:
        self._state.trouble = serializers.trouble_values(self.session.trouble)

    def _show_refused(self) -> None:
        trouble = self.session.trouble
        if trouble is not None and trouble.kind == "part":  # mistakes leave its card as it is
            self._state.refused = serializers.refused_values(trouble.refused, self.session.unit)

    def _show_busy(self) -> None:
        self._state.busy = self.session.busy

    def _show_proposal(self) -> None:
        self._state.proposal = serializers.proposal_values(self.session.proposal)

    def _show_errand(self) -> None:
        errand = self.session.errand
        self._state.errand = serializers.errand_values(errand)
        if errand is not None and errand.trouble is not None:
            self._state.trouble = serializers.trouble_values(errand.trouble)

    def _show_result(self) -> None:
        result, unit = self.session.result, self.session.unit
        if result is None:
            self._show_no_result()
            return
        if self.session.trouble is None:
            self._state.refused = None
        self._state.figures = serializers.figures(result, unit)
        before: dict[str, CardForm] = {card["name"]: card for card in self._state.cards}
        self._state.cards = [
            serializers.card_values(card, unit, before.get(card.name)) for card in result.cards
        ]
        self._state.checked = result.step == "all"
        if result.findings is not None:
            self._state.findings = serializers.finding_values(result.findings, unit)
        if result.step == "cuts":
            self._strip.draw(result)
        if result.step in {"part", "cuts"}:
            self._show_scene()
        elif result.findings is not None:
            self._show_marks(result)

    def _show_no_result(self) -> None:
        self._strip.forget()
        self.wanted = replace(self.wanted, stage=None)
        empty = _empty().items()
        self._state.update({name: value for name, value in empty if name in OF_RESULT})

    def _show_scene(self) -> None:
        result = self.session.result
        if result is None:
            return
        if self.wanted.stage is not None and result.stages is None:
            return  # the stage as it was stays until it is there again
        scene: Scene = {
            "stage": self.wanted.stage,
            "number": result.sequence,
            "shapes": shapes_of(result, self.wanted),
        }
        self._state.scene = scene
        self._show_marks(result)

    def _show_marks(self, result: Result) -> None:
        if result.findings is None:
            return
        self._state.marks = marks_of(result, self.wanted)
        self._state.labels = labels_of(result, self.wanted)

    def _show_strip(self, steps: list[StripStep]) -> None:
        with self._state:
            self._state.strip = steps


def wanted_of(asked: Mapping[str, Any]) -> Wanted:
    """Read what the page asks to see.

    Raises
    ------
    ValueError
        If it asks for what there is not.
    """
    stage, section = asked.get("stage"), asked.get("section") or {}
    cut = None
    if section.get("axis"):
        axis, keep, share = section["axis"], section.get("keep"), float(section.get("share", 0.5))
        if axis not in {"x", "y", "z"} or keep not in {"low", "high"} or not 0.0 < share < 1.0:
            raise ValueError(f"there is no section {section!r}")
        cut = Section(axis, share, keep)
    return Wanted(int(stage) if stage is not None else None, bool(asked.get("prisms")), cut)


def soon(loop: asyncio.AbstractEventLoop) -> Callable[..., object]:
    """Let other threads have something done on the event loop; nothing once it is closed."""

    def post(call: Callable[[], None]) -> None:
        if not loop.is_closed():
            loop.call_soon_threadsafe(call)

    return post
