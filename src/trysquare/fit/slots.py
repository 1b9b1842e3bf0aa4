"""What lies in the slots: whether each nut suits its slot, and has its own length of it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from trysquare.catalogue.values import Profile, SlotNut, SlotNutShape
from trysquare.fit.faults import Fault, pair
from trysquare.fit.lengths import named
from trysquare.fit.limits import ROUNDING_MM
from trysquare.ground.findings import Finding
from trysquare.machine.values import Fastening, Host, Machine


@dataclass(frozen=True, slots=True, kw_only=True)
class SlotPiece:
    """A nut or a screw head that lies in a slot, as an interval from the member's end a."""

    part: str
    screw: str
    joint: str
    member: str
    face: str
    from_mm: float
    to_mm: float
    is_nut: bool
    at_mm: tuple[float, float, float]

    @property
    def middle_mm(self) -> float:
        return (self.from_mm + self.to_mm) / 2


def slot_pieces(machine: Machine) -> list[SlotPiece]:
    """All nuts and screw heads in slots, along each slot. Bars are left to the solids."""
    pieces = []
    for fastening in machine.fastening.values():
        if not fastening.slot_member:
            continue
        nut = _slot_nut(machine, fastening)
        if nut is None and not fastening.head_in_slot:
            continue
        half = nut.length_mm / 2 if nut is not None else fastening.screw_type.head_diameter_mm / 2
        pieces.append(
            SlotPiece(
                part=fastening.host_part if nut is not None else fastening.screw,
                screw=fastening.screw,
                joint=fastening.joint,
                member=fastening.slot_member,
                face=fastening.slot_face,
                from_mm=fastening.slot_at_mm - half,
                to_mm=fastening.slot_at_mm + half,
                is_nut=nut is not None,
                at_mm=fastening.head_mm,
            )
        )
    return sorted(pieces, key=lambda piece: (piece.member, piece.face, piece.from_mm, piece.to_mm))


def slot_faults(machine: Machine) -> list[Fault]:
    """Pieces that stand in each other's place, and nuts that hang out of a slot's end."""
    pieces = slot_pieces(machine)
    return [*_too_close(pieces), *_over_the_end(machine, pieces)]


def _too_close(pieces: Sequence[SlotPiece]) -> list[Fault]:
    faults = []
    for one, other in pairwise(pieces):
        if (one.member, one.face) != (other.member, other.face) or other.from_mm >= one.to_mm - ROUNDING_MM:
            continue
        apart = other.middle_mm - one.middle_mm
        needed = (one.to_mm - one.from_mm + other.to_mm - other.from_mm) / 2
        faults.append(
            Fault(
                finding=Finding(
                    code="nuts-too-close",
                    says=f"{one.part} and {other.part} stand {apart:.1f} mm apart in slot {one.face} of "
                    f"{one.member}; they need {needed:.1f} mm.",
                    parts=(one.part, other.part, one.member),
                    joint=one.joint,
                    value=apart,
                    limit=needed,
                    unit="mm",
                    at_mm=other.at_mm,
                    remedy="Shift one of the two parts along the member, or take shorter nuts.",
                ),
                pairs=frozenset(
                    pair(near, far) for near in (one.part, one.screw) for far in (other.part, other.screw)
                ),
            )
        )
    return faults


def _over_the_end(machine: Machine, pieces: Sequence[SlotPiece]) -> list[Fault]:
    faults = []
    for piece in pieces:
        length = machine.part[piece.member].type.length_mm
        over = max(-piece.from_mm, piece.to_mm - length)
        if not piece.is_nut or over <= ROUNDING_MM:
            continue
        faults.append(
            Fault(
                finding=Finding(
                    code="nut-over-slot-end",
                    says=f"{piece.part} stands {over:.1f} mm out of the end of slot {piece.face} of "
                    f"{piece.member}.",
                    parts=(piece.part, piece.member),
                    joint=piece.joint,
                    value=over,
                    limit=0.0,
                    unit="mm",
                    at_mm=piece.at_mm,
                    remedy="Shift the part along the member, or take a shorter nut.",
                )
            )
        )
    return faults


def nut_faults(machine: Machine, fastening: Fastening) -> list[Fault]:
    """A slot nut that does not go into its slot, does not hold in it, or turns in it."""
    nut = _slot_nut(machine, fastening)
    member = machine.part.get(fastening.slot_member)
    profile = member.type.profile if member is not None else None
    if nut is None or profile is None or member is None:
        return []
    misfit = nut_misfit(nut, profile)
    if misfit is None:
        return []
    says, value, limit = misfit
    return [
        Fault(
            finding=Finding(
                code="nut-unfit-for-slot",
                says=f"{named(fastening)}: {nut.designation} in slot {fastening.slot_face} of {member.id} "
                f"({profile.designation}): {says}",
                parts=(fastening.host_part, member.id),
                joint=fastening.joint,
                value=value,
                limit=limit,
                unit="mm",
                at_mm=fastening.head_mm,
                remedy=f"Take a nut made for slot {profile.slot_mm:g}.",
            ),
            pairs=frozenset({frozenset({fastening.host_part})}),
        )
    ]


def nut_misfit(nut: SlotNut, profile: Profile) -> tuple[str, float, float] | None:
    """Why a nut does not suit a slot: in words, its size, the slot's; None when it suits."""
    body = nut.height_mm - nut.neck_mm
    at_floor = profile.inside_mm - 2 * max(0.0, profile.lip_mm + nut.shoulder_mm - profile.shoulder_mm)
    if nut.slot_mm != profile.slot_mm:
        return f"it is made for slot {nut.slot_mm:g}.", nut.slot_mm, profile.slot_mm
    if nut.width_mm > min(profile.inside_mm, at_floor) + ROUNDING_MM:
        room = min(profile.inside_mm, at_floor)
        return f"it is {nut.width_mm:g} mm wide, the slot {room:.1f} mm inside.", nut.width_mm, room
    if profile.lip_mm + body > profile.depth_mm + ROUNDING_MM:
        return (
            f"its body is {body:g} mm high, {profile.depth_mm - profile.lip_mm:g} mm lie under the lip.",
            body, profile.depth_mm - profile.lip_mm,
        )  # fmt: skip
    if nut.neck_mm > 0 and nut.neck_width_mm > profile.mouth_mm + ROUNDING_MM:
        return (
            f"its neck is {nut.neck_width_mm:g} mm wide, the mouth {profile.mouth_mm:g} mm.",
            nut.neck_width_mm, profile.mouth_mm,
        )  # fmt: skip
    if nut.width_mm <= profile.mouth_mm:
        return (
            f"it is {nut.width_mm:g} mm wide and pulls out through the mouth of {profile.mouth_mm:g} mm.",
            nut.width_mm, profile.mouth_mm,
        )  # fmt: skip
    corners = nut.width_mm * 2 / math.sqrt(3)
    if nut.shape is SlotNutShape.HEX_IN_SLOT and corners <= profile.inside_mm:
        return (
            f"it is {corners:.1f} mm across corners and spins in {profile.inside_mm:g} mm.",
            corners, profile.inside_mm,
        )  # fmt: skip
    return None


def _slot_nut(machine: Machine, fastening: Fastening) -> SlotNut | None:
    part = machine.part.get(fastening.host_part) if fastening.host is Host.SLOT_NUT else None
    nut = part.type.standard if part is not None else None
    return nut if isinstance(nut, SlotNut) else None
