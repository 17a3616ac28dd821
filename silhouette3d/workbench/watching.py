"""Looking after files that other programs may change."""

from __future__ import annotations

import logging
import threading
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Final

from silhouette3d.workbench.lane import Post

log = logging.getLogger(__name__)

STEP: Final = 50
"""Milliseconds of quiet after which changes are told."""

LONGEST: Final = 300
"""Milliseconds after which they are told even if more come in."""

ROUND: Final = 1000
"""Milliseconds after which one looks anyway: some network drives tell nothing."""


class Watcher:
    """Has somebody look when something happens in the folders of some files.

    Parameters
    ----------
    look : callable
        Called on the thread that `post` leads to; also once a second and right after
        the start, so that it must be quick when nothing has changed.
    post : callable
        Takes a function and has it called there.
    """

    def __init__(self, look: Callable[[], None], post: Post) -> None:
        self._look, self._post = look, post
        self._folders: frozenset[Path] = frozenset()
        self._end: threading.Event | None = None
        self._thread: threading.Thread | None = None

    def watch(self, files: Iterable[Path]) -> None:
        """Look after these files from now on, and no others.

        They need not exist: it is their folders that are watched.
        """
        folders = frozenset(path.parent for path in files if path.parent.is_dir())
        if folders == self._folders:
            return
        self.stop()
        self._folders = folders
        if not folders:
            return
        self._end = threading.Event()
        self._thread = threading.Thread(
            target=self._run, args=(folders, self._end), name="workbench files", daemon=True
        )
        self._thread.start()

    def stop(self) -> None:
        """Look after nothing any longer."""
        if self._end is not None and self._thread is not None:
            self._end.set()
            self._thread.join()
        self._end = self._thread = None
        self._folders = frozenset()

    def _run(self, folders: Iterable[Path], end: threading.Event) -> None:
        from watchfiles import watch

        self._post(self._look)
        try:
            for _ in watch(
                *folders,
                watch_filter=None,
                debounce=LONGEST,
                step=STEP,
                stop_event=end,
                rust_timeout=ROUND,
                yield_on_timeout=True,
                raise_interrupt=False,
                recursive=False,
            ):
                if not end.is_set():
                    self._post(self._look)
        except OSError as error:  # the system has no more watches to give, or a folder is gone
            log.warning("files are looked at once a second: %s", error)
            while not end.wait(ROUND / 1000):
                self._post(self._look)
