"""What paper and pages say of a part's size."""

from __future__ import annotations

import pytest

from trysquare.machine.values import Kind, PartType
from trysquare.publish.sorts import Labelled, belt_words, size_words


def _sort(part_type: PartType) -> Labelled:
    return Labelled(
        letter="K", name=part_type.name, kind=part_type.kind, part=part_type.id, parts=(part_type.id,),
        pieces=1, part_type=part_type,
    )  # fmt: skip


def _part(name: str, kind: Kind) -> PartType:
    outline = ((0.0, 0.0), (13.4441, 0.0), (13.4441, 214.4472), (0.0, 214.4472))
    return PartType(id=name, name=name, kind=kind, outline_mm=outline, thickness_mm=6.0)


def test_a_closed_belt_is_told_by_length_round_width_and_pitch() -> None:
    belt = _part("belt 2 mm pitch 6 mm wide, closed, 228 teeth", Kind.DRIVE)
    assert size_words(_sort(belt), "") == "456 mm round, 6 mm wide, pitch 2 mm"


@pytest.mark.parametrize(
    "name", ["belt of no size, closed, 20 teeth", "ISO 4762 M3x8, closed, 20 teeth", "wheel"]
)
def test_what_only_sounds_like_a_belt_is_none(name: str) -> None:
    assert belt_words(_part(name, Kind.DRIVE)) == ""


def test_an_outline_is_told_to_a_tenth() -> None:
    assert size_words(_sort(_part("plate", Kind.PLATE)), "") == "13.4 × 214.4 × 6 mm"
