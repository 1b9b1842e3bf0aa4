"""Laws of placing: rigid turns stay rigid, and what stands on a slot stands where it was said."""

from __future__ import annotations

import math
import shutil
import tempfile
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from machine.folders import GOOD, write
from machine.fuzzing import examples
from trysquare.ground.placement import DIRECTIONS
from trysquare.machine.load import load_machine
from trysquare.machine.values import Machine, PlacedPart

LENGTHS = st.floats(-500, 500).map(lambda value: round(value, 3))
POINTS = st.tuples(LENGTHS, LENGTHS, LENGTHS)
NAMES = sorted(DIRECTIONS)


def loaded(files: dict[str, str]) -> Machine:
    folder = Path(tempfile.mkdtemp())
    try:
        return load_machine(write(folder, {"machine.toml": 'format = 1\nname = "Placed"\n', **files}))
    finally:
        shutil.rmtree(folder)


@st.composite
def frames(draw: st.DrawFn) -> str:
    """Keys of a free placement: any point, two directions at right angles or a skew pair."""
    x, y, z = draw(POINTS)
    along = draw(st.sampled_from(NAMES))
    up = draw(st.sampled_from([name for name in NAMES if name[1] != along[1]]))
    if draw(st.booleans()):
        u, v = draw(st.floats(-0.9, 0.9)), draw(st.floats(-0.9, 0.9))
        lean = [a + 0.5 * b * u for a, b in zip(DIRECTIONS[along], DIRECTIONS[up], strict=True)]
        return f"at_mm = [{x}, {y}, {z}], along = {lean}, up = {[c * (1 + v) for c in DIRECTIONS[up]]}"
    return f'at_mm = [{x}, {y}, {z}], along = "{along}", up = "{up}"'


def lines_of(table: str) -> str:
    """An inline table's keys as lines of their own."""
    return table.replace(", along", "\nalong").replace(", up", "\nup")


@examples(60)
@given(frames())
def test_the_own_x_points_along_and_the_own_z_as_near_up_as_it_can(frame: str) -> None:
    part = loaded({"units/u.toml": f'[place]\np = {{ part = "rail 9x200", {frame} }}\n'}).part["u/p"]
    turn = part.placement.turn
    assert np.allclose(turn.T @ turn, np.eye(3), atol=1e-12)
    assert math.isclose(float(np.linalg.det(turn)), 1.0, abs_tol=1e-12)


def points_of(machine: Machine) -> dict[str, np.ndarray]:
    """Points of every part in the machine frame; of screws, which are round, only such on their axis."""
    spots = {}
    for part in machine.placed:
        own = np.eye(3) * 100
        if part.id.rpartition("/")[2].startswith("screw."):
            own = np.array([[0.0, 0, 0], [0, 0, 100], [0, 0, -100]])
        spots[part.id] = part.placement.point(own)
    for screw in machine.fastening.values():
        spots[screw.id] = np.array([screw.head_mm, np.add(screw.head_mm, screw.axis), screw.head_mm])
    return spots


@pytest.mark.slow
@examples(40)
@given(frames())
def test_turning_a_unit_turns_all_that_is_in_it_rigidly(frame: str) -> None:
    files = {
        name: text for name, text in GOOD.items() if name.startswith(("parts", "units", "papers/manual"))
    }
    files["units/frame.toml"] = files["units/frame.toml"].replace('align = "corners-square"\n', "")
    carriage = files["units/carriage.toml"].replace("[unit]", '[unit]\nin = "frame"')
    files["units/carriage.toml"] = carriage
    still = loaded(files)
    turned = loaded(
        {
            **files,
            "units/frame.toml": files["units/frame.toml"].replace("[unit]", "[unit]\n" + lines_of(frame)),
        }
    )
    assert turned.findings == still.findings == ()
    assert list(turned.part) == list(still.part)
    place = turned.part["frame/beam"].placement.then(still.part["frame/beam"].placement.inverse())
    before, after = points_of(still), points_of(turned)
    assert before.keys() == after.keys()
    for name, spots in before.items():
        assert np.allclose(place.point(spots), after[name], atol=1e-6), name


@st.composite
def on_slots(draw: st.DrawFn) -> tuple[str, str, float, float, str, float]:
    part = draw(st.sampled_from(["rail 9x200", "short", "plate"]))
    end = draw(st.sampled_from(["a", "b"]))
    offset = round(draw(st.floats(-50, 300)), 2)
    across = round(draw(st.floats(-20, 20)), 2)
    face = draw(st.sampled_from(["+y", "-y", "+z", "-z"]))
    turn = draw(
        st.sampled_from([0.0, 180.0, 90.0, -90.0]) | st.floats(-360, 360).map(lambda value: round(value, 1))
    )
    return part, end, offset, across, face, turn


def x_extent(part: PlacedPart, base: PlacedPart) -> tuple[float, float]:
    """From where to where a part reaches along the member it stands on, by its axis."""
    length = {"rail 9x200": 200.0, "short": 120.0}.get(part.type.id, 0.0)
    ends = base.placement.back(part.placement.point(np.array([[0.0, 0, 0], [length, 0, 0]])))
    return float(ends[:, 0].min()), float(ends[:, 0].max())


@pytest.mark.slow
@examples(80)
@given(frames(), on_slots())
def test_a_part_on_a_slot_has_its_nearest_end_at_its_offset(
    frame: str, row: tuple[str, str, float, float, str, float]
) -> None:
    part, end, offset, across, face, turn = row
    parts = (
        '[part.base]\nkind = "member"\nprofile = "profile 20x40 slot 6"\nlength_mm = 400\n'
        '[part.short]\nkind = "member"\nprofile = "profile 20x20 slot 6"\nlength_mm = 120\n'
        '[part.plate]\nkind = "plate"\nsize_mm = [30, 20, 3]\n'
    )
    slots = slots_of_base(parts)
    slot = face if face in slots else f"{face}.2"  # a 20x40 profile has two slots on each of its wide faces
    unit = (
        f'[place]\nbase = {{ part = "base", {frame} }}\n'
        f'p = {{ part = "{part}", on = "base:{slot}", from = "{end}", offset_mm = {offset}, '
        f"across_mm = {across}, turn_deg = {turn} }}\n"
    )
    machine = loaded({"parts.toml": parts, "units/u.toml": unit})
    base, placed = machine.part["u/base"], machine.part["u/p"]
    near, far = x_extent(placed, base)
    assert math.isclose(near if end == "a" else 400 - far, offset, abs_tol=1e-9)
    out = np.array(DIRECTIONS[face])
    assert np.allclose(base.placement.back_direction(placed.placement.turn[:, 2]), out, atol=1e-12)
    origin = base.placement.back(placed.placement.origin_mm)
    channel = slots[slot]
    assert math.isclose(float((origin - channel[0]) @ out), 0.0, abs_tol=1e-9)
    aside = np.cross(out, [1.0, 0.0, 0.0])
    assert math.isclose(float((origin - channel[0]) @ aside), across, abs_tol=1e-9)


def slots_of_base(parts: str) -> dict[str, tuple[np.ndarray, np.ndarray]]:
    from trysquare.machine.slots import member_channels

    unit = '[place]\nbase = { part = "base" }\n'
    base = loaded({"parts.toml": parts, "units/u.toml": unit}).part["u/base"]
    return {channel.name: (channel.start_mm, channel.out) for channel in member_channels(base)}


@pytest.mark.slow
@examples(30)
@given(frames(), frames(), frames())
def test_units_within_units_and_parts_on_parts_are_the_same_placing(one: str, two: str, three: str) -> None:
    nested = {
        "units/a.toml": f"[unit]\n{lines_of(one)}\n",
        "units/b.toml": f'[unit]\nin = "a"\n{lines_of(two)}\n',
        "units/c.toml": f'[unit]\nin = "b"\n[place]\np = {{ part = "rail 9x200", {three} }}\n',
    }
    stacked = (
        f'[place]\na = {{ part = "rail 9x200", {one} }}\nb = {{ part = "rail 9x200", on = "a", {two} }}\n'
        f'c = {{ part = "rail 9x200", on = "b", {three} }}\n'
    )
    first = loaded(nested).part["c/p"].placement
    second = loaded({"units/u.toml": stacked}).part["u/c"].placement
    assert np.allclose(first.matrix(), second.matrix(), atol=1e-9)
