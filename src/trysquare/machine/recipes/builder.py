"""What every recipe works with: the joint's keys, the scene, and the parts the joint brings."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from trysquare.catalogue.designation import tidy
from trysquare.catalogue.lookup import UnknownDesignation
from trysquare.catalogue.screws import sold_lengths_mm, split_standard
from trysquare.catalogue.values import Insert, Nut, Screw, SlotNut, SlotNutShape, Washer
from trysquare.ground.errors import ReadingError, Where, nearest
from trysquare.ground.placement import Array, Placement, facing
from trysquare.machine.recipes.nut_threads import nearest_thread, threads_of
from trysquare.machine.recipes.screw_words import no_length_words
from trysquare.machine.scene import Scene
from trysquare.machine.slots import Hit
from trysquare.machine.stack import make_stack, next_lengths, suggested_length_mm
from trysquare.machine.toml_lines import Path
from trysquare.machine.types import standard_type
from trysquare.machine.values import (
    BeltRun,
    CableRun,
    Fastening,
    Grip,
    Hole,
    Host,
    Joint,
    Kind,
    PartType,
    PlacedPart,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Bite:
    """What a screw's thread bites into; distances from the head's bearing face into the work."""

    host: Host
    part: str
    thread: str
    material: str
    from_mm: float
    to_mm: float
    room_mm: float
    room_part: str = ""
    hit: Hit | None = None
    carrier: str = ""


@dataclass(slots=True)
class JointBuilder:
    """Collects what one joint expands to."""

    id: str
    unit: str
    recipe: str
    raw: Mapping[str, Any]
    path: Path
    scene: Scene
    brings: list[PlacedPart] = field(default_factory=list)
    fastenings: list[Fastening] = field(default_factory=list)
    parts: dict[str, None] = field(default_factory=dict)  # joined parts, in order
    slides_on: dict[str, str] = field(default_factory=dict)
    belt: BeltRun | None = None
    cable: CableRun | None = None
    from_centre: bool = False
    counts: dict[str, int] = field(default_factory=dict)
    missed: dict[tuple[str, str], list[tuple[str, float]]] = field(default_factory=dict)
    """Per part above and below: holes above whose screws meet none, with how far off the nearest is, mm."""
    no_length: bool = False  # said already that no screw length fits

    def where(self, *key: str | int) -> Where:
        return self.scene.where((*self.path, *key))

    def problem(self, key: str, read: object, expected: str, remedy: str) -> None:
        self.scene.problems.append(
            ReadingError(where=self.where(key), read=read, expected=expected, remedy=remedy)
        )

    def joins(self, *parts: PlacedPart) -> None:
        for part in parts:
            self.parts.setdefault(part.id)

    def bring(self, sort: str, part_type: PartType, placement: Placement) -> PlacedPart:
        """Adds a fastener or the like to the joint, under the id joint/sort.n."""
        self.counts[sort] = self.counts.get(sort, 0) + 1
        placed = PlacedPart(
            id=f"{self.id}/{sort}.{self.counts[sort]}",
            type=part_type,
            placement=placement,
            unit=self.unit,
            joint=self.id,
            paper="",
        )
        self.brings.append(placed)
        return placed

    def type_of(self, key: str) -> PartType | None:
        """The part type a key names; None when the key is absent or its word is wrong (noted)."""
        word = self.raw.get(key)
        return self.scene.types.find(word, self.where(key)) if word else None

    def standard_of(self, key: str, sort: type, what: str) -> Any:
        """The catalogue value behind a key, of the sort asked for; None when absent or wrong (noted)."""
        word = self.raw.get(key)
        if not word:
            return None
        try:
            part = standard_type(word).standard
        except UnknownDesignation as error:
            self.problem(key, word, what, error.remedy)
            return None
        if not isinstance(part, sort):
            self.problem(key, word, what, "This is another sort of part.")
            return None
        return part

    def screw_words(self, key: str = "screw") -> tuple[str, str, str, str] | None:
        """Standard, thread, length ("" when it is to be computed) and class of the joint's screw."""
        word = self.raw.get(key, "")
        words = split_standard(tidy(word))
        if words is None:
            self.problem(
                key,
                word,
                "a screw designation such as ISO 7380-1 M3x8",
                "Write the standard, the thread and the length; without the length it is computed.",
            )
        return words

    def screw(self, bite: Bite, key: str = "screw") -> PartType | None:
        """The joint's screw; its length computed from the stack when the machine does not say it."""
        words = self.screw_words(key)
        if words is None:
            return None
        standard, thread, length, strength = words
        word = str(self.raw.get(key, ""))
        if not length:
            try:
                stack = make_stack(bite.host, bite.material, thread, bite.from_mm, bite.to_mm, bite.room_mm)
                found = suggested_length_mm(stack, standard, thread)
            except UnknownDesignation as error:
                self.problem(key, word, "a screw designation such as ISO 7380-1 M3x8", error.remedy)
                return None
            if found is None and self._nut_of_another_slot(bite):
                found = min(sold_lengths_mm(standard, thread), key=lambda one: abs(one - bite.to_mm))
            if found is None and self.no_length:
                return None  # said for another screw of this joint
            if found is None:
                self.no_length = True
                says, remedy = no_length_words(word, stack, next_lengths(stack, standard, thread))
                self.scene.say(
                    "no-length-fits",
                    says,
                    joint=self.id,
                    parts=(bite.part,) if bite.part else (),
                    where=self.where(key),
                    remedy=remedy,
                )
                return None
            word = f"{standard} {thread}x{found:g} {strength}".strip()
        try:
            part_type = standard_type(word)
        except UnknownDesignation as error:
            self.problem(key, word, "a screw designation such as ISO 7380-1 M3x8", error.remedy)
            return None
        if not isinstance(part_type.standard, Screw):
            self.problem(key, word, "a screw designation such as ISO 7380-1 M3x8", "This is no screw.")
            return None
        return part_type

    def _nut_of_another_slot(self, bite: Bite) -> bool:
        """Whether the slot nut is unfit for its slot: then that is to be told, and not the length."""
        nut = next((piece.type.standard for piece in self.brings if piece.id == bite.part), None)
        return (
            isinstance(nut, SlotNut)
            and bite.hit is not None
            and nut.slot_mm != bite.hit.channel.profile.slot_mm
        )

    def fasten(
        self,
        *,
        head_mm: Array,
        axis: Array,
        grips: tuple[Grip, ...],
        bite: Bite,
        washers: tuple[str, ...] = (),
        access_hole_mm: float = 0.0,
        needs_access_hole: bool = False,
        head_hit: Hit | None = None,
    ) -> None:
        """Places the screw and keeps its stack."""
        screw_type = self.screw(bite)
        if screw_type is None:
            return
        assert isinstance(screw_type.standard, Screw)
        screw = self.bring("screw", screw_type, Placement(facing(axis), np.asarray(head_mm, dtype=float)))
        hit = head_hit or bite.hit
        spot = (float(head_mm[0]), float(head_mm[1]), float(head_mm[2]))
        out = (float(axis[0]), float(axis[1]), float(axis[2]))
        self.fastenings.append(
            Fastening(
                id=f"{self.id}.{len(self.fastenings) + 1}",
                joint=self.id,
                screw=screw.id,
                screw_type=screw_type.standard,
                head_mm=spot,
                axis=out,
                grips=grips,
                host=bite.host,
                host_part=bite.part,
                host_thread=bite.thread,
                host_material=bite.material,
                thread_from_mm=bite.from_mm,
                thread_to_mm=bite.to_mm,
                room_mm=bite.room_mm,
                room_part=bite.room_part,
                slot_member=hit.channel.member if hit else "",
                slot_face=hit.channel.name if hit else "",
                slot_at_mm=hit.at_mm if hit else 0.0,
                head_in_slot=head_hit is not None,
                washers=washers,
                carrier=bite.carrier,
                access=(spot, out),
                access_hole_mm=access_hole_mm,
                needs_access_hole=needs_access_hole,
            )
        )

    def slot_nut_type(self, hit: Hit, thread: str) -> PartType | None:
        """The slot nut a joint asks for: a whole designation, or a sort; slot and thread are added."""
        word = str(self.raw.get("nut", "slide-in"))
        shapes = [str(shape) for shape in SlotNutShape]
        sort = f"{word} nut slot {hit.channel.profile.slot_mm:g}" if word in shapes else ""
        try:
            part_type = standard_type(f"{sort} {thread}" if sort else word)
        except UnknownDesignation as error:
            if sort and (known := threads_of(sort)):
                # The nut follows from the screw: it is the screw's thread that there is none for.
                self.problem(
                    "screw",
                    self.raw.get("screw", ""),
                    f"a screw whose thread a {sort} is made with: {', '.join(known)}",
                    f"Did you mean {nearest_thread(thread, known)}?",
                )
                return None
            close = nearest(word, shapes)
            remedy = close if close.startswith("Did") else error.remedy
            self.problem("nut", word, "a slot nut: " + ", ".join(shapes), remedy)
            return None
        if not isinstance(part_type.standard, SlotNut):
            self.problem("nut", word, "a slot nut: " + ", ".join(shapes), nearest(word, shapes))
            return None
        return part_type

    def bite_slot_nut(self, hit: Hit) -> Bite | None:
        """A slot nut seated under the lip where the screw's line meets the slot."""
        words = self.screw_words()
        if words is None:
            return None
        nut_type = self.slot_nut_type(hit, words[1])
        if nut_type is None:
            return None
        nut = nut_type.standard
        assert isinstance(nut, SlotNut)
        profile, channel = hit.channel.profile, hit.channel
        seat = channel.point(hit.at_mm, profile.lip_mm)
        turn = np.column_stack([channel.along, np.cross(channel.out, channel.along), channel.out])
        placed = self.bring("nut", nut_type, Placement(turn, seat))
        carrier = ""
        if carrier_type := self.type_of("carrier"):
            carrier = self.bring("carrier", carrier_type, Placement(turn, seat)).id
        self.joins(self.scene.parts[channel.member])
        shoulder = hit.below_mm + profile.lip_mm
        return Bite(
            host=Host.SLOT_NUT,
            part=placed.id,
            thread=nut.thread.name,
            material="steel",
            from_mm=shoulder - nut.neck_mm,
            to_mm=shoulder - nut.neck_mm + nut.height_mm,
            room_mm=hit.below_mm + profile.depth_mm,
            room_part=channel.member,
            hit=hit,
            carrier=carrier,
        )

    def bite_hole(self, part: PlacedPart, hole: Hole, at_mm: float) -> Bite:
        """A tapped hole that opens `at_mm` under the head."""
        return Bite(
            host=Host.TAPPED,
            part=part.id,
            thread=hole.thread,
            material=material_sort(part.type.material, part.type.kind),
            from_mm=at_mm,
            to_mm=at_mm + hole.depth_mm,
            room_mm=math.inf if hole.through else at_mm + hole.depth_mm,
            room_part="" if hole.through else part.id,
        )

    def bite_insert(self, part: PlacedPart, hole: Hole, at_mm: float) -> Bite | None:
        """A heat-set insert in its hole, flush with the surface; the joint brings the insert."""
        insert_type = standard_type(hole.insert)
        insert = insert_type.standard
        assert isinstance(insert, Insert)
        direction = part.placement.direction(hole.direction)
        placed = self.bring(
            "insert", insert_type, Placement(facing(direction), part.placement.point(hole.at_mm))
        )
        return Bite(
            host=Host.INSERT,
            part=placed.id,
            thread=insert.thread.name,
            material="brass",
            from_mm=at_mm,
            to_mm=at_mm + insert.length_mm,
            room_mm=math.inf if hole.through else at_mm + hole.depth_mm,
            room_part="" if hole.through else part.id,
        )

    def bite_nut(self, head_mm: Array, axis: Array, at_mm: float) -> Bite | None:
        """A free nut (with its washer) on the far side of the stack, `at_mm` under the head."""
        words = self.screw_words()
        if words is None:
            return None
        if "nut" not in self.raw:
            self.problem("nut", "nothing", "into or nut", 'Say what the thread bites: nut = "ISO 4032 M3".')
            return None
        nut = self.standard_of("nut", Nut, "a nut such as ISO 4032 M3")
        if nut is None:
            return None
        if washer := self.standard_of("washer_under_nut", Washer, "a washer such as ISO 7089 M3"):
            at_mm += washer.thickness_mm
            self.bring(
                "washer", standard_type(washer.designation), Placement(facing(axis), head_mm - axis * at_mm)
            )
        placed = self.bring(
            "nut", standard_type(nut.designation), Placement(facing(axis), head_mm - axis * at_mm)
        )
        return Bite(
            host=Host.NUT,
            part=placed.id,
            thread=nut.thread.name,
            material="steel",
            from_mm=at_mm,
            to_mm=at_mm + nut.height_mm,
            room_mm=math.inf,
        )

    def done(self) -> Joint:
        raw = self.raw
        return Joint(
            id=self.id,
            recipe=self.recipe,
            unit=self.unit,
            parts=tuple(self.parts),
            brings=tuple(self.brings),
            fastenings=tuple(self.fastenings),
            belt=self.belt,
            cable=self.cable,
            slides_on=self.slides_on,
            locks=tuple(raw.get("lock", ())),
            torque_newton_metre=raw.get("torque_newton_metre", 0.0),
            friction=raw.get("friction", 0.0),
            from_centre=self.from_centre,
            align=raw.get("align", ""),
            play_mm=raw.get("play_mm", 0.0),
            note=raw.get("note", ""),
        )


_METALS = {
    "steel": "steel",
    "stainless": "steel",
    "iron": "steel",
    "brass": "brass",
    "bronze": "brass",
    "alu": "aluminium",
}
_USUAL = {Kind.PRINTED: "plastic", Kind.MEMBER: "aluminium", Kind.PLATE: "aluminium"}


def material_sort(material: str, kind: Kind = Kind.BOUGHT) -> str:
    """Steel, brass, aluminium or plastic, as far as a material's name tells.

    A part without a material is taken for what its kind usually is: printed of plastic, members and plates
    of aluminium, bought parts of steel. A name that is no metal counts as plastic, which asks for the
    most thread.
    """
    name = material.lower()
    if not name:
        return _USUAL.get(kind, "steel")
    return next((sort for word, sort in _METALS.items() if word in name), "plastic")
