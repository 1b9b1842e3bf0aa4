"""What is known of solids from one run to the next: the same findings, and no harm from a damaged file."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from sequence.folders import Bench
from sequence.test_rules_screws import LID
from sequence.test_rules_slots import SLOT
from sequence.test_rules_ways import CUP
from trysquare.cli import solid_memory
from trysquare.fit.check import check_fit
from trysquare.ground.findings import Finding
from trysquare.machine.load import load_machine
from trysquare.machine.values import Kind, Machine, PartType, Primitive
from trysquare.sequence.check import check_order
from trysquare.sequence.reach import Reach
from trysquare.solid import shapes, shared
from trysquare.solid.overlap import solids_of
from trysquare.solid.sizes import Kept, as_bytes, from_bytes

DEMO = Path(__file__).parents[2] / "demo"
EDITS = (
    (CUP, CUP.but(("[20, 20, 10] }", "[20, 20, 12] }"))),  # a part moved
    (LID, LID.but(("box_mm = [160, 160, 60]", "box_mm = [160, 160, 40]"))),  # a shape changed
    (SLOT, CUP),
)


@pytest.fixture(autouse=True)
def nothing_known() -> Iterator[None]:
    forget()
    yield
    forget()


def forget() -> None:
    shapes.forget_solids()
    shared.forget_standings()


def told(machine: Machine) -> tuple[list[Finding], tuple[Finding, ...]]:
    return list(check_fit(machine)), check_order(machine, Reach(machine))


def next_run(file: Path) -> None:
    """As if the program ended, having kept what it knows, and began anew."""
    assert solid_memory.keep(file, "one")
    forget()
    solid_memory.recall(file, "one")


def block(high_mm: float) -> PartType:
    body = Primitive(
        shape="box", size_mm=(10.0, 20.0, high_mm), at_mm=(0.0, 0.0, 0.0), along=(0.0, 0.0, 1.0), cut=False
    )
    return PartType(id="block", name="block", kind=Kind.BOUGHT, primitives=(body,))


@pytest.mark.slow
@pytest.mark.parametrize(("first", "second"), EDITS)
def test_the_next_run_finds_the_same_with_and_without_what_was_kept(
    first: Bench, second: Bench, tmp_path: Path
) -> None:
    one, two = first.machine(tmp_path / "first"), second.machine(tmp_path / "second")
    fresh_one = told(one)
    forget()
    fresh_two = told(two)
    forget()
    told(one)
    next_run(tmp_path / "kept")
    assert told(one) == fresh_one
    assert told(two) == fresh_two
    next_run(tmp_path / "kept")
    assert told(two) == fresh_two
    assert told(one) == fresh_one


def test_a_second_look_at_the_fit_makes_hardly_any_solid(tmp_path: Path) -> None:
    machine = load_machine(DEMO / "reed-joints")
    found = list(check_fit(machine))
    next_run(tmp_path / "kept")
    assert list(check_fit(machine)) == found
    solids = {id(solid): solid for solid in solids_of(machine.placed, machine.folder) if solid is not None}
    assert sum(solid.is_made for solid in solids.values()) <= len(solids) // 4


def test_a_solid_whose_size_is_known_is_made_when_it_is_looked_at(tmp_path: Path) -> None:
    before = shapes.solid_of(block(5.0))
    next_run(tmp_path / "kept")
    after = shapes.solid_of(block(5.0))
    assert not after.is_made
    assert after.digest == before.digest
    assert after.triangle_count == 12
    assert (after.volume_mm3, after.area_mm2) == (before.volume_mm3, before.area_mm2)
    assert np.array_equal(after.box_mm, before.box_mm)
    assert not after.is_made
    assert np.array_equal(after.points_mm[after.triangles], before.points_mm[before.triangles])
    assert after.is_made
    assert after.manifold.volume() == pytest.approx(1000.0)


def test_another_size_is_another_solid(tmp_path: Path) -> None:
    shapes.solid_of(block(5.0))
    next_run(tmp_path / "kept")
    other = shapes.solid_of(block(6.0))
    assert other.is_made
    assert other.high_mm == pytest.approx((10.0, 20.0, 6.0))


def test_a_shape_file_without_a_digest_is_not_kept(tmp_path: Path) -> None:
    machine = load_machine(DEMO / "larch")
    drawn = next(part.type for part in machine.placed if part.type.shape_file)
    shapes.solid_of(drawn, machine.folder)
    assert len(shapes.known_sizes()) == 1
    forget()
    shapes.solid_of(replace(drawn, shape_digest=""), machine.folder)
    assert shapes.known_sizes() == {}


def test_what_was_kept_comes_back_as_it_was(tmp_path: Path) -> None:
    check_fit(load_machine(DEMO / "reed-joints"))
    kept = Kept(shapes.known_sizes(), shared.known_apart())
    back = from_bytes(as_bytes(kept, "one"), "one")
    assert kept.apart
    assert back.apart == kept.apart
    assert list(back.sizes) == list(kept.sizes)
    for name, size in kept.sizes.items():
        assert back.sizes[name].digest == size.digest
        assert np.array_equal(back.sizes[name].low_mm, size.low_mm)
        assert np.array_equal(back.sizes[name].high_mm, size.high_mm)
        assert back.sizes[name].volume_mm3 == size.volume_mm3
        assert back.sizes[name].triangle_count == size.triangle_count


def test_nothing_kept_comes_back_as_nothing() -> None:
    back = from_bytes(as_bytes(Kept(), "one"), "one")
    assert (back.sizes, back.apart) == ({}, frozenset())


@pytest.mark.parametrize("how", ["cut", "flipped", "longer", "empty", "another program's"])
def test_a_damaged_file_or_another_program_s_is_not_believed(how: str, tmp_path: Path) -> None:
    shapes.solid_of(block(5.0))
    file = tmp_path / "kept"
    assert solid_memory.keep(file, "one")
    whole = file.read_bytes()
    forget()
    for place in (0, 20, 40, 80, len(whole) // 2, len(whole) - 1):
        spoiled = {
            "cut": whole[:place],
            "flipped": whole[:place] + bytes([whole[place] ^ 1]) + whole[place + 1 :],
            "longer": whole + whole[:place] + b"x",
            "empty": b"",
            "another program's": whole,
        }[how]
        file.write_bytes(spoiled)
        solid_memory.recall(file, "two" if how == "another program's" else "one")
        assert shapes.solid_of(block(5.0)).is_made
        forget()


def test_a_place_that_cannot_be_read_or_written_is_no_error(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("in the way", encoding="utf-8")
    assert not solid_memory.keep(tmp_path / "file" / "kept", "one")
    solid_memory.recall(tmp_path / "file" / "kept", "one")
    solid_memory.recall(tmp_path, "one")
    solid_memory.recall(tmp_path / "nothing", "one")


def test_a_file_that_is_much_too_large_is_not_read(tmp_path: Path) -> None:
    file = tmp_path / "kept"
    with file.open("wb") as stream:
        stream.truncate(solid_memory.LARGEST_BYTES + 1)
    solid_memory.recall(file, "one")
    assert shapes.solid_of(block(5.0)).is_made


def test_what_is_kept_is_bounded(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(shared, "KEPT_FOR_NEXT", 5)
    shared.know_apart(bytes([n]) * 16 for n in range(20))
    for n in range(100, 120):
        shared.found_apart(bytes([n]) * 16)
    assert len(shared.known_apart()) <= 5
