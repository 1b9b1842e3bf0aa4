"""The demo's printer, given out as STEP and read back: what is recognised from faces alone."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest

from trysquare.catalogue.values import Insert, Nut, RailSize, Screw, SlotNut, Washer
from trysquare.ground.placement import Array, Placement
from trysquare.intake.bodies import Assembly, Body, Recognition
from trysquare.intake.recognise import recognised
from trysquare.intake.step_file import read_step
from trysquare.machine.load import load_machine
from trysquare.machine.values import Machine, PlacedPart
from trysquare.publish.given_tree import given_tree
from trysquare.publish.step_file import step_bytes
from trysquare.solid.shapes import solid_of

pytestmark = pytest.mark.slow
LARCH = Path(__file__).resolve().parents[2] / "demo" / "larch"


@dataclass(frozen=True)
class ReadBack:
    machine: Machine
    assembly: Assembly
    found: tuple[Recognition, ...]

    def pairs(self) -> Iterator[tuple[PlacedPart, Body, Recognition]]:
        """Each piece of the machine with the body of its name and what that was recognised as."""
        bodies = {body.name: body for body in self.assembly.bodies}
        for piece in given_tree(self.machine).all_pieces():
            body = bodies.get(piece.id)
            if body is not None:
                yield piece, body, self.found[body.shape]


@pytest.fixture(scope="module")
def larch(tmp_path_factory: pytest.TempPathFactory) -> ReadBack:
    machine = load_machine(LARCH)
    path = tmp_path_factory.mktemp("larch") / "larch.step"
    path.write_bytes(step_bytes(given_tree(machine), machine.folder))
    assembly = read_step(path)
    return ReadBack(machine, assembly, tuple(recognised(shape) for shape in assembly.shapes))


def test_every_piece_comes_back_where_it_stands(larch: ReadBack) -> None:
    pieces = list(given_tree(larch.machine).all_pieces())
    assert {piece.id for piece, _body, _found in larch.pairs()} == {piece.id for piece in pieces}
    places: dict[str, list[Array]] = {}
    for body in larch.assembly.bodies:
        points = body.placement.point(larch.assembly.shapes[body.shape].points_mm)
        places.setdefault(body.name, []).append(points)
    for piece in pieces:
        points = np.concatenate(places[piece.id])
        drawn = piece.placement.point(solid_of(piece.type, larch.machine.folder).points_mm)
        # two drawings of a round with flats differ by their sagitta
        assert points.min(axis=0) == pytest.approx(drawn.min(axis=0), abs=0.15), piece.id
        assert points.max(axis=0) == pytest.approx(drawn.max(axis=0), abs=0.15), piece.id
    assert not larch.assembly.problems


def test_every_member_comes_back_with_profile_length_and_tapped_ends(larch: ReadBack) -> None:
    members = [each for each in larch.pairs() if each[0].type.profile is not None]
    assert len(members) >= 23
    for piece, _body, found in members:
        profile = piece.type.profile
        assert profile is not None
        assert found.designation == profile.designation
        assert found.is_sure
        assert found.parameters["length_mm"] == pytest.approx(piece.type.length_mm, abs=1e-4)
        assert len(found.tapped) == len(piece.type.tapped_ends)


def test_every_hole_of_a_member_comes_back_at_its_place(larch: ReadBack) -> None:
    count = 0
    for piece, body, found in larch.pairs():
        if piece.type.profile is None:
            continue
        seat = body.placement.then(found.frame)
        seen = [
            (seat.point(hole.at_mm), seat.direction(hole.direction), hole.diameter_mm) for hole in found.holes
        ]
        drilled = [hole for hole in piece.type.holes if not hole.name.startswith(("a", "b")) or hole.access]
        drilled = [hole for hole in drilled if not hole.thread]
        for hole in drilled:
            count += 1
            at, way = piece.placement.point(hole.at_mm), piece.placement.direction(hole.direction)
            near = [size for point, _way, size in seen if on_line(point, at, way)]
            assert near == [pytest.approx(hole.diameter_mm, abs=1e-3)], (piece.id, hole.name)
        assert len(seen) == len(drilled), piece.id
    assert count >= 20


def on_line(point: Array, at: Array, way: Array) -> bool:
    away = point - at
    return float(np.linalg.norm(away - way * float(away @ way))) < 0.01


def test_every_rail_and_block_comes_back_with_its_designation_and_frame(larch: ReadBack) -> None:
    rails = [each for each in larch.pairs() if isinstance(each[0].type.standard, RailSize)]
    assert len(rails) >= 5
    for piece, body, found in larch.pairs():
        standard = piece.type.standard
        if standard is None or not standard.designation.startswith(("rail ", "block ")):
            continue
        assert found.designation == standard.designation
        assert found.is_sure
        seat: Placement = body.placement.then(found.frame)
        assert seat.turn[:, 2] == pytest.approx(piece.placement.turn[:, 2], abs=1e-6)
        assert abs(float(seat.turn[:, 0] @ piece.placement.turn[:, 0])) == pytest.approx(1, abs=1e-6)


def test_at_least_99_in_100_fasteners_come_back_with_designation_axis_and_seat(larch: ReadBack) -> None:
    right = wrong = 0
    for piece, body, found in larch.pairs():
        standard = piece.type.standard
        if not isinstance(standard, Screw | Nut | Washer | Insert | SlotNut):
            continue
        seat = body.placement.then(found.frame)
        along = abs(float(seat.turn[:, 2] @ piece.placement.turn[:, 2]))
        named = standard.designation.removesuffix(getattr(standard, "strength", "")).rstrip()
        seated = not isinstance(standard, Screw) or on_seat(seat, piece.placement)
        if found.designation == named and along > 1 - 1e-9 and seated and found.is_sure:
            right += 1
        else:
            wrong += 1
    assert right >= 500
    assert wrong <= 0.01 * (right + wrong)


def on_seat(seat: Placement, placement: Placement) -> bool:
    """Whether a screw's own origin and direction are those it was placed with."""
    same_way = float(seat.turn[:, 2] @ placement.turn[:, 2]) > 0
    return same_way and float(np.linalg.norm(seat.origin_mm - placement.origin_mm)) < 0.01
