"""Look of an object of a DXF file: its layer, colour and linetype.

Each may be the object's own, its layer's (BYLAYER), or that of the block reference
through which it is seen (BYBLOCK); an object on layer 0 of a block lies on the layer
of the reference. So a look is resolved from the outermost reference inwards.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from silhouette3d.drawing.colour import of_index

if TYPE_CHECKING:
    from ezdxf.document import Drawing as Document

__all__ = ["DxfLook", "LayerLook", "Looks", "attribute"]

_BYBLOCK: Final = 0
_BYLAYER: Final = 256
_INDEX: Final = range(1, 256)
_BLACK: Final = "#000000"
_CONTINUOUS: Final = "CONTINUOUS"


@dataclass(frozen=True)
class LayerLook:
    """A layer of a drawing.

    Parameters
    ----------
    name : str
        As in the table of layers, or as first seen.
    state : str
        "frozen", "off" or "not plotted"; empty where its objects are visible.
    colour : str
        "#rrggbb", of objects that leave it to their layer.
    linetype : str
        Name of the linetype of objects that leave it to their layer.
    """

    name: str
    state: str = ""
    colour: str = _BLACK
    linetype: str = _CONTINUOUS


@dataclass(frozen=True)
class DxfLook:
    """Look of an object once nothing is left to others: layer, "#rrggbb", linetype."""

    layer: LayerLook
    colour: str
    linetype: str


class Looks:
    """Layers and linetypes of a document, and what its objects take from them.

    Parameters
    ----------
    document : ezdxf.document.Drawing
        As opened.
    """

    def __init__(self, document: Document) -> None:
        names = (linetype.dxf.name for linetype in document.linetypes)
        self._linetypes = {name.casefold(): _whole(name) for name in names}
        self._layers = {key: self._layer(entry) for key, entry in _entries(document)}

    def of(self, entity: Any, block: DxfLook | None) -> DxfLook:
        """Resolve the look of an object, which may be seen through a block reference.

        Parameters
        ----------
        entity : DXFEntity
            The object; one of an unknown kind may lack every attribute.
        block : DxfLook, optional
            Of the reference that shows it.
        """
        name = attribute(entity, "layer", "0")
        if name == "0" and block is not None:
            layer = block.layer
        else:
            layer = self._layers.setdefault(name.casefold(), self._unlisted(name))
        return DxfLook(layer, _colour(entity, layer, block), self._linetype(entity, layer, block))

    def _layer(self, entry: Any) -> LayerLook:
        """Give a layer of the table.

        The layer DEFPOINTS is never plotted, whatever its flag says (common
        practice of drawing programs, no source).
        """
        name = entry.dxf.name
        hidden = not entry.dxf.plot or name.casefold() == "defpoints"
        state = "not plotted" if hidden else ""
        state = "off" if entry.is_off() else state
        state = "frozen" if entry.is_frozen() else state
        index = abs(entry.dxf.color)  # below 0 the layer is off
        colour = _true(entry) or (of_index(index) if index in _INDEX else _BLACK)
        return LayerLook(_whole(name), state, colour, self._spelt(entry.dxf.linetype))

    def _unlisted(self, name: str) -> LayerLook:
        return LayerLook(_whole(name), linetype=self._spelt(_CONTINUOUS))

    def _linetype(self, entity: Any, layer: LayerLook, block: DxfLook | None) -> str:
        name = attribute(entity, "linetype", "BYLAYER")
        if name.casefold() == "bylayer":
            return layer.linetype
        if name.casefold() == "byblock":
            return block.linetype if block is not None else self._spelt(_CONTINUOUS)
        return self._spelt(name)

    def _spelt(self, name: str) -> str:
        """Spell a linetype as the table of linetypes does."""
        return self._linetypes.get(name.casefold(), _whole(name))


def attribute(entity: Any, name: str, default: Any) -> Any:
    """Give an attribute that every object should have, and one of an unknown kind may lack."""
    return entity.dxf.get(name, default) if entity.dxf.is_supported(name) else default


def _entries(document: Document) -> list[tuple[str, Any]]:
    return [(entry.dxf.name.casefold(), entry) for entry in document.layers]


def _colour(entity: Any, layer: LayerLook, block: DxfLook | None) -> str:
    true = _true(entity)
    if true is not None:  # it wins over any index (DXF reference, group code 420)
        return true
    index = attribute(entity, "color", _BYLAYER)
    if index == _BYLAYER:
        return layer.colour
    if index == _BYBLOCK and block is not None:
        return block.colour
    return of_index(index) if index in _INDEX else _BLACK


def _true(entity: Any) -> str | None:
    number = attribute(entity, "true_color", None)
    return None if number is None else f"#{number & 0xFFFFFF:06x}"


def _whole(name: str) -> str:
    """Make a name printable; a damaged one may hold half characters."""
    return name.encode(errors="replace").decode()
