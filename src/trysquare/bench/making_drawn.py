"""Drawings and meshes: pictures of sorts, what can be turned in each step, and the steps' pictures."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from trysquare.bench.facts import DrawnFacts, PartDrawn, PictureFacts
from trysquare.bench.kept_answers import KeptAnswers
from trysquare.bench.links import DRAWINGS
from trysquare.bench.sketch import sketch_svg
from trysquare.bench.solids import shapes_of, step_solids
from trysquare.bench.views import Drawn
from trysquare.publish.drawing import Drawing
from trysquare.publish.known import Known
from trysquare.publish.part_picture import part_pictures
from trysquare.publish.picture_store import PictureStore
from trysquare.publish.sorts import sort_drawing
from trysquare.publish.step_picture import Picture
from trysquare.publish.step_scene import StepScenes

PART_MM = (60.0, 40.0)  # room of a sort's picture
SKETCH_MM = (90.0, 30.0)
SOLIDS = "/solids"


@dataclass(frozen=True, slots=True)
class Drawer:
    """Keeps drawings by content and gives their addresses."""

    kept: KeptAnswers

    def sketch(self, drawing: Drawing) -> str:
        """A small line drawing."""
        return self.svg(sketch_svg(drawing))

    def svg(self, text: str) -> str:
        """Any SVG document."""
        return f"{DRAWINGS}/{self.kept.keep_drawing(text.encode('utf-8', 'replace'), 'svg')}"


def drawn_facts(known: Known, store: PictureStore, stamp: str, kept: KeptAnswers) -> DrawnFacts:
    """The fourth part: sorts drawn, and meshes of every step."""
    drawer = Drawer(kept)
    return DrawnFacts(parts=_parts(known, store, stamp, drawer), solids=_solids(known, kept))


def _parts(known: Known, store: PictureStore, stamp: str, drawer: Drawer) -> dict[str, PartDrawn]:
    pictures = part_pictures(known, *PART_MM, store, stamp)
    found: dict[str, PartDrawn] = {}
    for sort in known.sorts:
        picture = pictures.get(sort.part)
        if picture is not None:
            found[sort.part] = PartDrawn(
                drawn=Drawn(href=drawer.svg(picture.svg), width=picture.width_mm, height=picture.height_mm,
                            says=picture.name),
                width_mm=picture.width_mm / picture.scale,
                height_mm=picture.height_mm / picture.scale,
            )  # fmt: skip
            continue
        drawing = sort_drawing(sort, known.machine.folder, *SKETCH_MM)
        if drawing is not None:
            found[sort.part] = PartDrawn(
                drawn=Drawn(href=drawer.sketch(drawing), width=drawing.width_mm, height=drawing.height_mm,
                            says=drawing.says),
                width_mm=0.0,
                height_mm=0.0,
            )  # fmt: skip
    return found


def _solids(known: Known, kept: KeptAnswers) -> dict[str, str]:
    """Each step's facts for the 3D view, kept by content."""
    shapes = shapes_of(known)
    if not shapes.number_of:
        return {}
    meshes = f"{SOLIDS}/{kept.keep_drawing(shapes.content, 'bin')}"
    found = {}
    for step, scene in StepScenes(known):
        facts = step_solids(known, step, scene, shapes, meshes)
        if facts:
            found[step.id] = f"{SOLIDS}/{kept.keep_drawing(facts, 'json')}"
    return found


def picture_facts(pictures: Mapping[str, Picture], most: int, kept: KeptAnswers) -> PictureFacts:
    """The fifth part, as far as pictures are drawn."""
    drawer = Drawer(kept)
    return PictureFacts(
        steps={
            name: Drawn(href=drawer.svg(one.svg), width=one.width_mm, height=one.height_mm, says=one.says)
            for name, one in pictures.items()
        },
        all=most,
        looks={name: one.view.direction for name, one in pictures.items()},
    )
