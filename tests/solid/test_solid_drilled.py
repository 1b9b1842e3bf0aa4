"""Holes drawn at once are the holes that the kernel would cut."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from manifold3d import Manifold

from trysquare.catalogue.lookup import lookup
from trysquare.catalogue.values import Profile, RailSize
from trysquare.ground.placement import Triple
from trysquare.machine.values import Hole
from trysquare.solid.bodies import ABOVE_MM, ALONG_X, bore, box, prism_x, prism_z
from trysquare.solid.drilled import Bore, Piece, clear_bores, drilled
from trysquare.solid.guides import rail_body
from trysquare.solid.primitives import bore_of, plate_body, with_holes
from trysquare.solid.profiles import cell_centres, member_body, section

PLATE = ((0.0, 0.0), (90.0, 0.0), (90.0, 50.0), (40.0, 50.0), (40.0, 30.0), (0.0, 30.0))
THICK_MM = 6.0


def hole(
    x: float, y: float, *, up: bool = True, wide: float = 5.0, depth: float = THICK_MM, **more: object
) -> Hole:
    at: Triple = (x, y, THICK_MM if up else 0.0)
    out: Triple = (0.0, 0.0, 1.0 if up else -1.0)
    more.setdefault("through", depth >= THICK_MM)
    return Hole(
        name=f"{x}/{y}", at_mm=at, direction=out, diameter_mm=wide, depth_mm=depth,
        **more,  # type: ignore[arg-type]
    )  # fmt: skip


def slanted(at_mm: Triple, out: Triple, depth_mm: float) -> Hole:
    return Hole(name="one", at_mm=at_mm, direction=out, diameter_mm=3.0, depth_mm=depth_mm, through=False)


def assert_same_shape(one: Manifold, two: Manifold) -> None:
    assert float((one - two).volume() + (two - one).volume()) == pytest.approx(0.0, abs=1e-4)
    assert one.volume() == pytest.approx(two.volume(), rel=1e-9)
    assert one.surface_area() == pytest.approx(two.surface_area(), rel=1e-9)
    assert one.genus() == two.genus()


HOLES = (
    hole(10, 10),
    hole(25, 10, up=False),
    hole(40, 10, wide=3, depth=2.5),
    hole(55, 10, up=False, wide=9, depth=4),
    hole(70, 20, counterbore_mm=9.5, counterbore_depth_mm=3),
    hole(52, 40, up=False, counterbore_mm=10, counterbore_depth_mm=2.5),
    hole(80, 40, wide=5, depth=4, counterbore_mm=8, counterbore_depth_mm=1),
)


@pytest.mark.parametrize("one", HOLES)
def test_a_plain_hole_is_drawn_without_the_kernel(one: Hole) -> None:
    drawn = bore_of(one, THICK_MM)
    assert drawn is not None
    assert clear_bores([np.array(PLATE)], [drawn]).tolist() == [True]


def test_a_plate_is_what_the_kernel_would_cut_it_to() -> None:
    assert_same_shape(
        plate_body(PLATE, THICK_MM, "plate", HOLES), with_holes(prism_z(PLATE, 0.0, THICK_MM), HOLES)
    )


@pytest.mark.parametrize(
    "one",
    [
        hole(2, 10),  # cuts the edge
        hole(10, 28.5),  # cuts another edge
        hole(20, 40),  # in the notch, where there is nothing
        hole(200, 10),  # far off
        hole(26, 10),  # crosses the next hole
        hole(12, 12, depth=THICK_MM, through=False),  # ends at the other face
        hole(12, 12, depth=THICK_MM - 1e-5),  # leaves a skin
        hole(12, 12, countersunk=True),
        slanted((0.0, 15.0, 3.0), (-1.0, 0.0, 0.0), 12),
        slanted((12.0, 12.0, 6.0), (0.0, 0.6, 0.8), 20),
        slanted((12.0, 12.0, 5.0), (0.0, 0.0, 1.0), 2),
    ],
)
def test_a_hole_that_is_nothing_plain_is_cut_all_the_same(one: Hole) -> None:
    holes = (hole(25, 10), one)
    assert_same_shape(
        plate_body(PLATE, THICK_MM, "plate", holes), with_holes(prism_z(PLATE, 0.0, THICK_MM), holes)
    )


def test_an_outline_that_is_a_ring_keeps_its_opening() -> None:
    ring = ((0.0, 0.0), (60.0, 0.0), (60.0, 60.0), (0.0, 60.0), (0.0, 0.0),
            (20.0, 20.0), (20.0, 40.0), (40.0, 40.0), (40.0, 20.0), (20.0, 20.0))  # fmt: skip
    holes = (hole(10, 30), hole(30, 30), hole(50, 50))
    body = plate_body(ring, THICK_MM, "ring", holes)
    assert_same_shape(body, with_holes(prism_z(ring, 0.0, THICK_MM), holes))
    assert body.genus() == 3  # the opening and two holes: the third lies in the opening


@pytest.mark.slow
@settings(max_examples=60, deadline=None, derandomize=True)
@given(
    st.lists(
        st.tuples(
            st.integers(-2, 92), st.integers(-2, 52), st.booleans(),
            st.sampled_from([2.0, 5.0, 9.0]), st.sampled_from([1.0, 3.0, 6.0]),
            st.sampled_from([0.0, 4.0, 12.0]), st.sampled_from([0.0, 2.0, 4.0]),
        ),
        max_size=7,
    )
)  # fmt: skip
def test_any_holes_in_a_plate_are_what_the_kernel_cuts(
    drawn: list[tuple[int, int, bool, float, float, float, float]],
) -> None:
    holes = [
        hole(x, y, up=up, wide=wide, depth=depth, counterbore_mm=bored, counterbore_depth_mm=deep)
        for x, y, up, wide, depth, bored, deep in drawn
    ]
    # One by one: of many cutters at once that share faces the kernel now and then leaves a sliver.
    cut = prism_z(PLATE, 0.0, THICK_MM)
    for one in holes:
        cut = with_holes(cut, [one])
        cut.num_tri()  # not put off until all are known
    assert_same_shape(plate_body(PLATE, THICK_MM, "plate", holes), cut)


def test_a_rail_is_what_the_kernel_would_cut_it_to() -> None:
    rail = lookup("rail 9x300")
    assert isinstance(rail, RailSize)
    half_mm = rail.width_mm / 2
    bar = box((0.0, -half_mm, 0.0), (rail.length_mm, half_mm, rail.height_mm))
    for x in rail.holes_mm:
        bar -= bore(rail.hole_mm, -ABOVE_MM, rail.height_mm + ABOVE_MM).translate((x, 0.0, 0.0))
        shelf_mm = rail.height_mm - rail.counterbore_depth_mm
        bar -= bore(rail.counterbore_mm, shelf_mm, rail.height_mm + ABOVE_MM).translate((x, 0.0, 0.0))
    assert_same_shape(rail_body(rail), bar)


@pytest.mark.parametrize("ends", [("a",), ("b",), ("a", "b")])
def test_a_tapped_member_is_what_the_kernel_would_cut_it_to(ends: tuple[str, ...]) -> None:
    profile = lookup("profile 20x40 slot 6")
    assert isinstance(profile, Profile)
    whole = prism_x(section(profile, profile.core_mm), 0.0, 120.0)
    for y in cell_centres(profile.cells_y, profile.cell_mm):
        for z in cell_centres(profile.cells_z, profile.cell_mm):
            tap = bore(profile.core_mm + 0.8, -ABOVE_MM, 20.0).transform(ALONG_X)
            if "a" in ends:
                whole -= tap.translate((0.0, y, z))
            if "b" in ends:
                whole -= tap.mirror((1.0, 0.0, 0.0)).translate((120.0, y, z))
    drawn = member_body(profile, 120.0, ends, 20.0, profile.core_mm + 0.8)
    # The corners of the round may be turned: only how much is there and how it hangs together must agree.
    assert drawn.volume() == pytest.approx(whole.volume(), rel=1e-6)
    assert drawn.genus() == whole.genus()


def test_pieces_nearly_as_wide_as_each_other_are_left_to_the_kernel() -> None:
    square = [np.array([[0.0, 0.0], [20.0, 0.0], [20.0, 20.0], [0.0, 20.0]])]
    nearly = Bore(10.0, 10.0, (Piece(5.0, 5.0, 3.0), Piece(4.99, 3.0, 0.0)))
    well = Bore(10.0, 10.0, (Piece(6.0, 5.0, 3.0), Piece(4.0, 3.0, 0.0)))
    assert clear_bores(square, [nearly]).tolist() == [False]
    assert clear_bores(square, [well]).tolist() == [True]
    assert clear_bores(square, [well, well]).tolist() == [False, False]
    assert drilled(square, 0.0, 5.0, []) is not None
