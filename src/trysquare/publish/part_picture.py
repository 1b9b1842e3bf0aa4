"""One part by itself, small: for lists, cards and the parts sheet."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from trysquare.ground.errors import ReadingError
from trysquare.machine.values import PartType
from trysquare.publish.known import Known
from trysquare.publish.picture_store import PictureStore
from trysquare.publish.picture_svg import PENS, head, sheet
from trysquare.publish.picture_window import Window, drawn
from trysquare.solid.drawing import ISOMETRIC, NEW, Pens, Piece, Scene, View, draw, fitted
from trysquare.solid.shapes import Solid, makes_solid, solid_of

THIN = 0.6  # of the pens of large pictures
EDGE_MM = 0.4
TINY = 0.06  # below this scale a profile's edges lie so close that they make a black bar
TINY_STYLE = '<g class="tiny">'


@dataclass(frozen=True, slots=True, kw_only=True)
class PartPicture:
    """`inside`: elements in mm, the left top corner at 0, 0; `svg`: the same as a document of its own.
    `scale`: mm of the picture for each mm of the part."""

    inside: str
    width_mm: float
    height_mm: float
    name: str
    scale: float = 1.0

    @property
    def svg(self) -> str:
        begin = head(self.width_mm, self.height_mm, self.name, "", pens=_pens())
        return "\n".join([*begin, self.inside, "</svg>", ""])


def part_picture(
    part_type: PartType, folder: str | Path, width_mm: float, height_mm: float
) -> PartPicture | None:
    """The part as large as fits, seen from the front left above; None without a usable solid."""
    if not makes_solid(part_type):
        return None
    try:
        body = solid_of(part_type, folder)
    except ReadingError:
        return None
    return solid_picture(body, part_type.name, width_mm, height_mm)


def solid_picture(body: Solid, name: str, width_mm: float, height_mm: float) -> PartPicture | None:
    """A solid as large as fits, seen from the front left above; None when nothing of it can be seen."""
    scene = Scene((Piece(id="part", body=body, role=NEW, says=name),))
    view = fitted(scene, View(ISOMETRIC.direction), width_mm - 2 * EDGE_MM, height_mm - 2 * EDGE_MM)
    drawing = draw(scene, view)
    low, high = drawing.box_mm
    if not (high > low).any():
        return None
    window = Window(low=low - EDGE_MM, high=high + EDGE_MM, left=0.0, top=0.0, scale=1.0)
    tag = f"p{hashlib.blake2b(body.digest, digest_size=4).hexdigest()}"
    tiny = view.scale < TINY
    rows = drawn(drawing, window, tag, only_outlines=tiny)
    if tiny:
        rows = [TINY_STYLE, *rows, "</g>"]
    return PartPicture(
        inside="".join(rows),
        width_mm=round(window.right, 2),
        height_mm=round(window.bottom, 2),
        name=name,
        scale=view.scale,
    )


def part_pictures(
    known: Known, width_mm: float, height_mm: float, store: PictureStore | None = None, stamp: str = ""
) -> dict[str, PartPicture]:
    """A small picture of every sort that has a solid, by part id."""
    store = store or PictureStore(None)
    found: dict[str, PartPicture] = {}
    for sort in known.sorts:
        part_type = sort.part_type
        if part_type is None or not makes_solid(part_type):
            continue
        key = _key(part_type, known.machine.folder, stamp, width_mm, height_mm)
        facts = store.read(key) if key else None
        picture = _from(facts)
        if picture is None:
            picture = part_picture(part_type, known.machine.folder, width_mm, height_mm)
            if picture is not None and key:
                size = {"width": picture.width_mm, "height": picture.height_mm}
                facts = {"inside": picture.inside, "name": picture.name, "scale": picture.scale, **size}
                store.keep(key, facts)
        if picture is not None:
            for part in dict.fromkeys((sort.part, *sort.parts)):
                found[part] = picture
    return found


def facts_of(picture: PartPicture) -> dict[str, Any]:
    """As the templates read it."""
    return {"svg": picture.svg, "width": picture.width_mm, "height": picture.height_mm, "says": picture.name}


def part_style(heavier: float = 1.0) -> str:
    """The style that `inside` wants around it, its lines so many times as heavy as on paper."""
    return sheet(_pens(heavier))


def _pens(heavier: float = 1.0) -> Pens:
    share = THIN * heavier
    return replace(
        PENS,
        new_outline_mm=round(PENS.new_outline_mm * share, 3),
        new_crease_mm=round(PENS.new_crease_mm * share, 3),
    )


def _key(part_type: PartType, folder: str | Path, stamp: str, width_mm: float, height_mm: float) -> str:
    try:
        body = solid_of(part_type, folder)
    except ReadingError:
        return ""
    about = f"{stamp} part {part_type.name} {width_mm} {height_mm}".encode("utf-8", "surrogatepass")
    return hashlib.blake2b(about + body.digest, digest_size=20).hexdigest()


def _from(facts: dict[str, Any] | None) -> PartPicture | None:
    try:
        return None if facts is None else PartPicture(
            inside=facts["inside"], width_mm=facts["width"], height_mm=facts["height"], name=facts["name"],
            scale=facts["scale"],
        )  # fmt: skip
    except KeyError:
        return None
