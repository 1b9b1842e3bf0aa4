"""Laws of the fit room."""

from __future__ import annotations

import math
import tempfile
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from fit.folders import machine_of
from trysquare.catalogue.lookup import lookup
from trysquare.catalogue.screws import length_tolerance_mm, sold_lengths_mm
from trysquare.catalogue.threads import thread, thread_names
from trysquare.catalogue.unknown import UnknownDesignation
from trysquare.catalogue.values import Screw
from trysquare.fit.check import check_fit
from trysquare.fit.lengths import length_faults
from trysquare.fit.preload import preload_newton, tightening_torque_newton_metre
from trysquare.ground.findings import Finding
from trysquare.ground.placement import Array, Placement
from trysquare.machine.stack import TIP_CLEAR_MM, engaged_mm, make_stack, suggested_length_mm
from trysquare.machine.values import Axis, Fastening, Host, Machine, PlacedPart

sizes = st.floats(0.5, 40.0).map(lambda value: round(value, 2))


@given(
    st.sampled_from(["ISO 4762", "ISO 7380-1", "ISO 10642"]),
    st.sampled_from(["M2", "M3", "M4", "M5", "M6"]),
    st.sampled_from([Host.SLOT_NUT, Host.NUT, Host.INSERT, Host.TAPPED]),
    st.sampled_from(["steel", "brass", "aluminium", "plastic"]),
    sizes,
    sizes,
    st.one_of(st.just(math.inf), sizes),
)
def test_a_suggested_length_satisfies_every_rule_it_is_suggested_for(
    standard: str, name: str, host: Host, material: str, from_mm: float, thick_mm: float, room_mm: float
) -> None:
    stack = make_stack(host, material, name, from_mm, from_mm + thick_mm, from_mm + room_mm)
    try:
        found = suggested_length_mm(stack, standard, name)
        screw = lookup(f"{standard} {name}x{found:g}") if found else None
    except UnknownDesignation:
        return
    if found is None:
        for length in sold_lengths_mm(standard, name):
            plus, _ = length_tolerance_mm(length)
            assert engaged_mm(stack, length) < stack.least_mm or length + plus > stack.room_mm
        return
    assert isinstance(screw, Screw)
    fastening = Fastening(
        id="u/j.1", joint="u/j", screw="u/j/screw.1", screw_type=screw, head_mm=(0, 0, 0), axis=(0, 0, 1),
        grips=(), host=host, host_part="", host_thread=name, host_material=material, thread_from_mm=from_mm,
        thread_to_mm=from_mm + thick_mm, room_mm=from_mm + room_mm,
    )  # fmt: skip
    said = [fault.finding for fault in length_faults(EMPTY, fastening)]
    # the only thing left to say is that no length keeps its tip clear of the slot's floor
    assert [one.code for one in said] in ([], ["tip-near-floor"])
    for one in said:
        assert "No other length" in one.remedy
        assert found + TIP_CLEAR_MM > stack.room_mm


EMPTY = Machine(
    id="m", name="m", folder="", types={}, placed=(), joints=(), units=(), steps=(), papers=(), sayings=(),
    rulings=(), aliases={},
)  # fmt: skip


@given(st.sampled_from(thread_names()), st.floats(0.05, 0.3), st.floats(0.05, 0.3), st.floats(200, 1200))
def test_more_friction_gives_less_preload_and_the_same_preload_asks_for_more_torque(
    name: str, one: float, other: float, proof: float
) -> None:
    size, (low, high) = thread(name), sorted((one, other))
    assert preload_newton(size, proof, low) >= preload_newton(size, proof, high)
    mean = size.diameter_mm * 1.3
    assert tightening_torque_newton_metre(size, 1000, low, low, mean) <= tightening_torque_newton_metre(
        size, 1000, high, high, mean
    )


@cache
def faulty() -> Machine:
    """A machine with a fault of every geometric sort, away from ties."""
    with tempfile.TemporaryDirectory() as folder:
        return machine_of(
            Path(folder),
            ("ISO 7380-1 M5x8", "ISO 7380-1 M5x10"),
            ("diameter_mm = 5.5, access", "diameter_mm = 3.8, access"),
            (
                'name = "c", at_mm = [15, 15], diameter_mm = 3.4',
                'name = "c", at_mm = [15, 15], diameter_mm = 2.8',
            ),
            ("travel_mm = 100", "travel_mm = 180"),
            ("at_mm = 50\n", "at_mm = 90\n"),
            parts='\n[part.lump]\nkind = "plate"\nsize_mm = [10, 10, 10]\n',
            place='lump = { part = "lump", at_mm = [96, 205, -8] }\n'
            'stop = { part = "lump", at_mm = [255, 5, 35] }\n',
        )


def moved(machine: Machine, by: Placement) -> Machine:
    """The whole machine put down elsewhere and turned."""

    def part(placed: PlacedPart) -> PlacedPart:
        return replace(placed, placement=by.then(placed.placement))

    def triple(vector: Array) -> tuple[float, float, float]:
        x, y, z = (float(value) for value in vector)
        return (x, y, z)

    def fastening(one: Fastening) -> Fastening:
        return replace(one, head_mm=triple(by.point(one.head_mm)), axis=triple(by.direction(one.axis)))

    def axis(one: Axis) -> Axis:
        return replace(one, direction=triple(by.direction(one.direction)))

    return replace(
        machine,
        placed=tuple(part(one) for one in machine.placed),
        joints=tuple(
            replace(
                joint,
                brings=tuple(part(one) for one in joint.brings),
                fastenings=tuple(fastening(one) for one in joint.fastenings),
            )
            for joint in machine.joints
        ),
        axes=tuple(axis(one) for one in machine.axes),
    )


def summary(findings: tuple[Finding, ...]) -> list[tuple[object, ...]]:
    # an overlap's box in words follows the machine's axes, its volume does not
    return sorted(
        (
            one.code,
            one.joint,
            tuple(sorted(one.parts)),
            None if one.value is None else round(one.value, 1),
            one.unit,
        )
        for one in findings
    )


angles = st.floats(-math.pi, math.pi)


@settings(max_examples=15)
@given(angles, angles, angles, st.tuples(*[st.floats(-500, 500)] * 3))
def test_moving_and_turning_the_whole_machine_does_not_change_what_is_found(
    a: float, b: float, c: float, shift: tuple[float, float, float]
) -> None:
    machine = faulty()
    found = summary(check_fit(machine))
    assert {row[0] for row in found} >= {"screw-too-long", "block-runs-off-rail", "overlap", "in-moving-path"}
    turn = _about(2, a) @ _about(1, b) @ _about(0, c)
    assert summary(check_fit(moved(machine, Placement(turn, np.array(shift))))) == found


def _about(axis: int, angle: float) -> Array:
    cosine, sine = math.cos(angle), math.sin(angle)
    turn = np.eye(3)
    i, j = [k for k in range(3) if k != axis]
    turn[i, i], turn[i, j], turn[j, i], turn[j, j] = cosine, -sine, sine, cosine
    return turn
