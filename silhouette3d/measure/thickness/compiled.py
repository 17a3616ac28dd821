"""Functions that numba turns into machine code, and whether that is still to be done.

Compiled code is kept on disk, so it is made once: beside the module, or in the
user's cache folder where the package's own cannot be written. Kernels that call
each other stand in one module, because the code that is kept follows changes of
its own file only; but for the arithmetic of `points`, which does not change.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar, cast

import numba

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
