"""Functions that numba turns into machine code, and points as three plain numbers for them.

Compiled code is kept on disk, so it is made once: beside the module, or in the
user's cache folder where the package's own cannot be written. Kernels that call
each other stand in one module, because the code that is kept follows changes of
its own file only; but for the arithmetic of points, which does not change.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar, cast

import numba

from silhouette3d.geometry.frames import Array

Function = TypeVar("Function", bound=Callable[..., Any])


def compiled(function: Function) -> Function:
    """Compile a function to machine code when first called, and keep that on disk."""
    try:
        kept = numba.njit(cache=True, nogil=True, error_model="numpy")(function)
    except RuntimeError:  # no folder that can be written: then for this run only
        kept = numba.njit(nogil=True, error_model="numpy")(function)
    return cast(Function, kept)


def is_kept(function: Callable[..., Any]) -> bool:
    """Tell whether the machine code of a compiled function lies on disk or in memory."""
    dispatcher = cast(Any, function)
    if not hasattr(dispatcher, "stats") or dispatcher.signatures:
        return True  # not to be compiled at all (NUMBA_DISABLE_JIT), or done
    folder, plain = dispatcher.stats.cache_path, dispatcher.py_func
    version = f"py{sys.version_info.major}{sys.version_info.minor}"
    name = f"{plain.__module__.rpartition('.')[2]}.{plain.__qualname__}-*{version}*.nbi"
    return folder is not None and any(Path(folder).glob(name))


Point = tuple[float, float, float]


@compiled
def row_of(values: Array, i: int, k: int) -> Point:
    """Read three numbers of row i, from the k-th on."""
    return values[i, k], values[i, k + 1], values[i, k + 2]


@compiled
def dot(a: Point, b: Point) -> float:
    """Multiply two vectors (inner product)."""
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]


@compiled
def minus(a: Point, b: Point) -> Point:
    """Subtract: the vector from b to a."""
    return a[0] - b[0], a[1] - b[1], a[2] - b[2]


@compiled
def plus(a: Point, s: float, b: Point) -> Point:
    """Add: the point a + s b."""
    return a[0] + s * b[0], a[1] + s * b[1], a[2] + s * b[2]


@compiled
def _beyond(low: float, high: float, at: float) -> float:
    """Measure how far a number is outside a range."""
    outside = low - at if low - at > at - high else at - high
    return outside if outside > 0.0 else 0.0


@compiled
def gap(low: Point, high: Point, at: Point) -> float:
    """Square the distance between a point and a box."""
    x, y = _beyond(low[0], high[0], at[0]), _beyond(low[1], high[1], at[1])
    z = _beyond(low[2], high[2], at[2])
    return x * x + y * y + z * z
