"""What gives way under a screw: rubber and springs in its stack, which no torque belongs to."""

from __future__ import annotations

import re

from trysquare.machine.values import Fastening, Kind, Machine, PartType

PRACTICE = "common practice, no source"

# Materials that give way long before a screw is tight. Source: common practice, no source.
_GIVES_WAY = re.compile(
    r"\b(silicone|rubber|tpu|tpe|epdm|nbr|fkm|neoprene|elastomer|foam|cork|felt|sorbothane)(?![a-z])",
    re.IGNORECASE,
)
_SPRING = re.compile(r"\bsprings?\b(?![ -]*(nut|washer|steel|pin|ring))", re.IGNORECASE)
_PLASTIC = re.compile(
    r"\s*(PLA|PETG|ABS|ASA|PC|PA|POM|PMMA|HIPS|PP|PVC|PE|nylon|acrylic|acetal|plastic)(?![a-z])",
    re.IGNORECASE,
)


def gives_way(machine: Machine, fastening: Fastening) -> str:
    """What in the stack is soft: "silicone", "TPU", "spring"; "" when the stack is hard.

    A joint through it has no torque: the screw squeezes it without end. It is turned to a mark or to a
    reading, as a bed's levelling screws are. Source: common practice, no source.
    """
    for kind in _stack(machine, fastening):
        if _SPRING.search(kind.name) or _SPRING.search(kind.id):
            return "spring"
        said = _GIVES_WAY.search(kind.material)
        if said is not None:
            return said[1] if said[1].isupper() else said[1].lower()
    return ""


def plastic_clamped(machine: Machine, fastening: Fastening) -> str:
    """The plastic the screw clamps, in the words of a limit; "" when it clamps none.

    "printed part under the head" for a printed part; a bought part is told by its material: "PA part under
    the head". What lies deeper is "in the joint". A bought part whose material nobody stated is taken as
    metal, as everywhere.
    """
    for number, kind in enumerate(_stack(machine, fastening)):
        found = _PLASTIC.match(kind.material)
        if kind.kind is Kind.PRINTED or found is not None:
            what = "printed" if kind.kind is Kind.PRINTED or found is None else found[1]
            return f"{what} part {'in the joint' if number else 'under the head'}"
    return ""


def _stack(machine: Machine, fastening: Fastening) -> list[PartType]:
    """The sorts of the layers that the screw clamps, from the head on."""
    return [machine.part[grip.part].type for grip in fastening.grips if grip.part in machine.part]
