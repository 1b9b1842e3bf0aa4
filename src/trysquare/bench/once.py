"""Pieces of a page that are the same until their values change: each is rendered once and kept."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Hashable
from typing import Protocol

from markupsafe import Markup


class Piece(Protocol):
    """A macro of a template. It may only use what it is given."""

    name: str
    __call__: Callable[..., str]


class Once:
    """Rendered pieces by the macro's name and its values, the least used dropped beyond `most`."""

    def __init__(self, most: int) -> None:
        self._most = most
        self._kept: OrderedDict[tuple[Hashable, ...], str] = OrderedDict()

    def __call__(self, piece: Piece, *values: Hashable) -> Markup:
        """The piece of these values, as it was rendered before if it was."""
        key = (piece.name, *values)
        text = self._kept.get(key)
        if text is None:
            text = self._kept[key] = str(piece(*values))
            if len(self._kept) > self._most:
                self._kept.popitem(last=False)
        else:
            self._kept.move_to_end(key)
        return Markup(text)
