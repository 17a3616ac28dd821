"""Requests of the page, by name; each answer that fails is told, and all goes on."""

from __future__ import annotations

import base64
import binascii
from collections.abc import Callable, Mapping, Sequence
from functools import wraps
from typing import Any

from silhouette3d.errors import WorkbenchError
from silhouette3d.workbench import edits
from silhouette3d.workbench.protocol import checked
from silhouette3d.workbench.view3d import eye_for
from silhouette3d.workbench.view_model import Bench, wanted_of

Answer = Callable[..., Any]
Pair = tuple[float, float]
Side = tuple[float, float, float]


def answers(bench: Bench) -> dict[str, Answer]:
    """List everything the page may ask for.

    Parameters
    ----------
    bench : Bench
        Whose session is asked.

    Returns
    -------
    dict
        From the name to the function; none of them raises.
    """
    every = {**_edits(bench), **_files(bench), **_views(bench)}
    return {name: _safe(bench, checked(answer)) for name, answer in every.items()}


def _safe(bench: Bench, answer: Answer) -> Answer:
    @wraps(answer)
    def told(*given: Any) -> Any:
        try:
            return answer(*given)
        except Exception as error:
            bench.complain(error)
            return None

    return told


def _edits(bench: Bench) -> dict[str, Answer]:
    session = bench.session

    def put(key: Sequence[str | int], value: object, run: str = "") -> bool:
        return session.set_value(tuple(key), value, run)

    def shift(i: int, to: Pair, run: str = "") -> bool:
        return session.edit_in_run(run, edits.shift, i, to)

    def stock(size: Side | None, bar: Mapping[str, Any] | None, run: str = "") -> bool:
        if size is not None:
            return session.edit_in_run(run, edits.stock_block, size)
        if bar is None:
            raise WorkbenchError("neither a block nor a bar is given", todo="give its sizes")
        return session.edit_in_run(
            run, edits.stock_bar, bar["diameter"], bar["length"], bar["along"]
        )

    def add_profile(drawing: str, view: str) -> bool:
        return session.edit(lambda job: edits.add_profile(job, drawing, view))

    def nudge(i: int, right: float, up: float) -> bool:
        return session.edit(edits.nudge, i, right, up)

    def material(name: str) -> bool:
        return session.edit(edits.material, name)

    def density(value: float | None) -> bool:
        return session.edit(edits.density, value)

    def order(names: Sequence[str]) -> bool:
        return session.edit(edits.order, names)

    def add_tab(i: int, at: Pair) -> bool:
        return session.add_tab(i, at)

    def move_tab(i: int, k: int, at: Pair, run: str) -> bool:
        return session.move_tab(i, k, at, run)

    def widen_tab(i: int, k: int, width: float | None) -> bool:
        return session.edit(edits.widen_tab, i, k, width)

    def remove_tab(i: int, k: int) -> bool:
        return session.edit(edits.remove_tab, i, k)

    def remove_profile(i: int) -> bool:
        return session.edit(edits.remove_profile, i)

    return {
        "put": put,
        "shift": shift,
        "nudge": nudge,
        "stock": stock,
        "material": material,
        "density": density,
        "order": order,
        "add_tab": add_tab,
        "move_tab": move_tab,
        "widen_tab": widen_tab,
        "remove_tab": remove_tab,
        "add_profile": add_profile,
        "remove_profile": remove_profile,
        "undo": session.undo,
        "redo": session.redo,
        "propose_order": session.aside.propose_order,
        "propose_tabs": session.aside.propose_tabs,
        "accept": session.accept,
        "refuse": session.refuse,
    }


def _files(bench: Bench) -> dict[str, Answer]:
    session = bench.session

    def begin(
        name: str, units: Any, stock: Mapping[str, object], profiles: Sequence[Mapping[str, object]]
    ) -> bool:
        return session.begin(name, units, stock, profiles)

    def save_beside(name: str | None = None) -> bool:
        return session.save_beside(name or None)

    def export(kind: str, name: str, replace: bool) -> bool:
        return session.aside.export(kind, name, replace=replace)

    def keep_picture(name: str, address: str, replace: bool) -> bool:
        try:
            data = base64.b64decode(address.partition(",")[2], validate=True)
        except binascii.Error:
            raise WorkbenchError("the picture of the view did not arrive whole") from None
        return session.uploads.store_picture(name, data, replace=replace)

    return {
        "save": session.save,
        "save_beside": save_beside,
        "reload": session.reload,
        "open": session.open,
        "open_sample": session.open_sample,
        "begin": begin,
        "layers": session.uploads.layers,
        "contents": session.uploads.contents,
        "export": export,
        "keep_picture": keep_picture,
        "dismiss": bench.dismiss,
    }


def _views(bench: Bench) -> dict[str, Answer]:
    session = bench.session

    def want(asked: Mapping[str, Any]) -> None:
        bench.want(wanted_of(asked))

    def switch(unit: str) -> None:
        if unit not in {"mm", "in"}:
            raise ValueError(f"there is no unit {unit!r}")
        session.unit = "in" if unit == "in" else "mm"

    def look(profile: str) -> dict[str, list[float]] | None:
        return eye_for(session.result, profile) if session.result else None

    return {"want": want, "switch": switch, "look": look}
