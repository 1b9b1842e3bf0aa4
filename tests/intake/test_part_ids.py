"""Names of parts that stay from one revision to the next."""

from __future__ import annotations

from pathlib import Path

from intake.made_step import Made, bored, box, write_step
from trysquare.ground.placement import Placement
from trysquare.intake.cad_file import read_cad
from trysquare.intake.part_ids import Names
from trysquare.intake.rulings import Memory
from trysquare.intake.taken_in import TakenIn, taken_in


def plate_with_hole(folder: Path, *spots_mm: float) -> Path:
    """Plates of one name, each with its hole at another place."""
    plates = (Made("plate", bored(box(80, 40, 5), (spot, 20, 5), (0, 0, -1), 8, 5)) for spot in spots_mm)
    inside = tuple((plate, Placement(), "plate") for plate in plates)
    return write_step(folder / "x.step", Made("rig", inside=inside))


def taken(path: Path, known: dict[str, str]) -> tuple[TakenIn, dict[str, str]]:
    found = taken_in(read_cad(path), Memory(types=known))
    return found, {own.shape.digest: own.id for own in found.pieces.types}


def test_a_part_with_one_hole_moved_keeps_its_name(tmp_path: Path) -> None:
    _, before = taken(plate_with_hole(tmp_path, 20), {})
    _, after = taken(plate_with_hole(tmp_path, 25), before)
    assert list(before.values()) == list(after.values()) == ["plate"]
    assert before.keys() != after.keys()


def test_where_both_are_drawn_the_known_shape_keeps_the_name(tmp_path: Path) -> None:
    _, before = taken(plate_with_hole(tmp_path, 20), {})
    _, after = taken(plate_with_hole(tmp_path, 25, 20), before)
    (old,) = before
    assert after[old] == "plate"
    assert sorted(after.values()) == ["plate", "plate-2"]


def test_two_remembered_shapes_never_get_one_name() -> None:
    names = Names({"old": "plate", "new": "plate"})
    assert names.one_of("plate", digest="old") == "plate"
    assert names.one_of("plate", digest="new") == "plate-2"
