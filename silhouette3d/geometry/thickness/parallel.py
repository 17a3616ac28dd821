"""Machine code made by numba, and work shared out among the cores."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any, Final, TypeVar, cast

import numba

# --- Functions that numba turns into machine code, and whether that is still to be done
#
# Compiled code is kept on disk, so it is made once: beside the module, or in the
# user's cache folder where the package's own cannot be written. Kernels that call
# each other stand in one module, because the code that is kept follows changes of
# its own file only; but for the arithmetic of `points`, which does not change.


Function = TypeVar("Function", bound=Callable[..., Any])


def compiled(function: Function) -> Function:
    """A function as machine code, made when first called and kept on disk."""
    try:
        kept = numba.njit(cache=True, nogil=True, error_model="numpy")(function)
    except RuntimeError:  # no folder that can be written: then for this run only
        kept = numba.njit(nogil=True, error_model="numpy")(function)
    return cast(Function, kept)


def is_kept(function: Callable[..., Any]) -> bool:
    """Whether the machine code of a compiled function lies on disk or in memory."""
    dispatcher = cast(Any, function)
    if not hasattr(dispatcher, "stats") or dispatcher.signatures:
        return True  # not to be compiled at all (NUMBA_DISABLE_JIT), or done
    folder, plain = dispatcher.stats.cache_path, dispatcher.py_func
    version = f"py{sys.version_info.major}{sys.version_info.minor}"
    name = f"{plain.__module__.rpartition('.')[2]}.{plain.__qualname__}-*{version}*.nbi"
    return folder is not None and any(Path(folder).glob(name))


# --- Work on many rows, shared out among the cores of the processor


Result = TypeVar("Result")

_FEW: Final = 2000
"""Rows that are not worth a thread of their own."""

_EACH: Final = 4
"""Parts for each core, for some take longer than others."""


def shared(work: Callable[[slice], Result], count: int) -> list[Result]:
    """What `work` makes of rows 0 to `count`, in parts one after the other.

    Parameters
    ----------
    work : callable
        Called with some of the rows, in several threads at once; must leave the
        interpreter to others while it works, as compiled code does.
    count : int
        Of rows.
    """
    cores = os.cpu_count() or 1
    parts = min(_EACH * cores, count // _FEW)
    if cores == 1 or parts < 2:
        return [work(slice(0, count))]
    cuts = [count * k // parts for k in range(parts + 1)]
    with ThreadPoolExecutor(cores) as pool:
        return list(pool.map(work, map(slice, cuts[:-1], cuts[1:])))


def at_once(one: Callable[[], Result], other: Callable[[], Result]) -> tuple[Result, Result]:
    """What two pieces of work come to, done at the same time."""
    with ThreadPoolExecutor(1) as pool:
        waiting = pool.submit(other)
        return one(), waiting.result()
