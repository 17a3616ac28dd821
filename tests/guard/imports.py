"""Reading the imports of the package from its source, without running it."""

from __future__ import annotations

import ast
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
PACKAGE = "silhouette3d"

LAYERS: tuple[frozenset[str], ...] = tuple(
    frozenset(rooms.split())
    for rooms in (
        "errors",
        "base",
        "geometry",
        "drawing",
        "process",
        "checks",
        "planning",
        "job",
        "presentation",
        "model",
        "documents",
        "part",
        "__init__",
        "workbench",
        "cli",
        "__main__",
    )
)
"""The rooms of the package, lowest first: each imports from earlier lines, or from itself."""

PICTURES = ("documents.pictures", "workbench")

LIBRARIES: dict[str, tuple[str, ...]] = {
    "aiohttp": ("workbench",),
    "cyclopts": ("cli",),
    "ezdxf": ("drawing", "documents.setup_drawings"),
    "fontTools": ("drawing.text",),
    "manifold3d": ("geometry",),
    "matplotlib": ("documents", "drawing.text"),
    "pyvista": PICTURES,
    "rich": ("cli",),
    "tomlkit": ("job",),
    "trame": ("workbench",),
    "trame_client": ("workbench",),
    "trame_server": ("workbench",),
    "trame_vtk": ("workbench",),
    "watchfiles": ("workbench",),
    "wslink": ("workbench",),
    "trimesh": ("documents.meshes",),
    "typst": ("documents.setup_sheets",),
    "vtk": PICTURES,
    "vtkmodules": PICTURES,
}
"""Which rooms, or modules of rooms, may import a library that is kept to its place."""


@dataclass(frozen=True)
class Module:
    """A module of the package by its name inside it: ``drawing.dxf.text``, ``__init__``."""

    name: str
    source: str

    @property
    def room(self) -> str:
        return _first(self.name)

    @property
    def folder(self) -> str:
        """The dotted name that a relative import starts from."""
        parts = [PACKAGE, *self.name.split(".")]
        return ".".join(parts[:-1])


def package_modules() -> list[Module]:
    """Every module that lies in the package's folder."""
    top = ROOT / PACKAGE
    return [
        Module(".".join(path.relative_to(top).with_suffix("").parts), path.read_text("utf-8"))
        for path in sorted(top.rglob("*.py"))
    ]


def imported(module: Module) -> Iterator[str]:
    """Dotted names of everything a module imports, inside functions too.

    ``from a import b`` gives ``a.b``, as b may be a module.
    """
    for node in ast.walk(ast.parse(module.source)):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            start = node.module or ""
            if node.level:
                base = module.folder.split(".")
                start = ".".join([*base[: len(base) - node.level + 1], *filter(None, [start])])
            yield from (f"{start}.{alias.name}" for alias in node.names)


def inside(module: Module, known: Sequence[Module]) -> set[str]:
    """The modules of the package that a module imports, by their names inside it."""
    return {_owner(name, known) for name in imported(module) if _first(name) == PACKAGE}


def outside(module: Module) -> set[str]:
    """The top-level names of other libraries that a module imports."""
    return {_first(name) for name in imported(module)} - {PACKAGE}


def upward(modules: Sequence[Module]) -> list[str]:
    """Imports that do not go down the layers. A room without a layer may import nothing."""
    level = {room: i for i, rooms in enumerate(LAYERS) for room in rooms}
    return [
        f"{module.name} imports {target}"
        for module in modules
        for target in sorted(inside(module, modules))
        if module.room != (room := _first(target))
        and level.get(module.room, -1) <= level.get(room, len(LAYERS))
    ]


def misplaced(modules: Sequence[Module]) -> list[str]:
    """Imports of a library outside the rooms it is kept to."""
    return [
        f"{module.name} imports {library}"
        for module in modules
        for library in sorted(outside(module) & LIBRARIES.keys())
        if not any(f"{module.name}.".startswith(f"{place}.") for place in LIBRARIES[library])
    ]


def _first(name: str) -> str:
    return name.partition(".")[0]


def _owner(dotted: str, known: Sequence[Module]) -> str:
    """The longest known module that a dotted name begins with."""
    names = {module.name for module in known}
    parts = dotted.split(".")[1:]
    for length in range(len(parts), 0, -1):
        name = ".".join(parts[:length])
        if name in names:
            return name
        if f"{name}.__init__" in names:
            return f"{name}.__init__"
    return "__init__"
