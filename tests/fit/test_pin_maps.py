"""Wires from pin to pin: a motor's coils, polarity of loads, by the maps of both ends.

Source: common practice, no source, for what a pin's name says; each case is worked by hand.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from command_line import DEMO
from trysquare.fit.pin_maps import (
    Wire,
    carried,
    coil_of,
    connector,
    pin_findings,
    polarity_findings,
    swap_for_coils,
    unproved,
    wires_of,
)
from trysquare.ground.findings import Finding
from trysquare.machine.load import load_machine
from trysquare.machine.values import CableRun, Machine


@pytest.fixture(scope="module")
def larch() -> Machine:
    return load_machine(DEMO / "larch", [])


def with_run(machine: Machine, joint: str, **changed: Any) -> Machine:
    joints = tuple(
        replace(one, cable=replace(one.cable, **changed)) if one.id == joint and one.cable else one
        for one in machine.joints
    )
    return replace(machine, joints=joints)


def with_pins(machine: Machine, part: str, **changed: Any) -> Machine:
    sort = replace(machine.part[part].type, **changed)
    placed = tuple(replace(one, type=sort) if one.type.id == sort.id else one for one in machine.placed)
    return replace(machine, placed=placed)


def run_of(machine: Machine, joint: str) -> CableRun:
    run = machine.joint[joint].cable
    assert run is not None
    return run


def found(machine: Machine) -> list[Finding]:
    return list(pin_findings(machine))


def test_a_machine_whose_maps_agree_has_no_finding(larch: Machine) -> None:
    assert found(larch) == []


def test_a_plug_with_its_two_middle_wires_changed_over_names_the_two_to_swap(larch: Machine) -> None:
    crossed = ("A1 black", "B1 red", "A2 green", "B2 blue")
    (one,) = found(with_run(larch, "wiring/motor-a", pins=crossed))
    assert one.code == "coil-pairs-crossed"
    assert "A1 and A2 are one coil at electronics/board:motor-a" in one.says
    assert "Swap B1 red and A2 green" in one.remedy
    assert "pins 2 and 3 from the left, seen from the wires" in one.remedy


def test_a_map_drawn_from_the_other_half_is_turned_before_it_is_compared(larch: Machine) -> None:
    # Looking into the plug left and right change over: B2 B1 A2 A1 keeps both pairs together.
    mirrored = with_run(larch, "wiring/motor-a", pins_seen="mating side")
    assert found(mirrored) == []
    run = run_of(mirrored, "wiring/motor-a")
    assert [wire.name for wire in wires_of(mirrored, run)] == ["B2 blue", "B1 red", "A2 green", "A1 black"]
    crossed = ("A1 black", "A2 green", "B1 red", "B2 blue")
    board = {**larch.part["electronics/board"].type.pins, "motor-a": ("A1", "B1", "B2", "A2")}
    drawn = with_pins(larch, "electronics/board", pins=board)
    (one,) = found(with_run(drawn, "wiring/motor-a", pins=crossed))
    assert one.code == "coil-pairs-crossed"
    back = with_pins(larch, "electronics/board", pins=board, pins_seen="back")
    assert connector(back, run_of(back, "wiring/motor-a")) == ("A2", "B2", "B1", "A1")


def test_a_board_drawn_from_behind_turns_the_polarity_of_a_fan(larch: Machine) -> None:
    turned = with_pins(larch, "electronics/board", pins_seen="back")
    codes = {(one.code, one.joint) for one in found(turned)}
    assert ("pins-crossed", "wiring/fan-part") in codes
    assert ("pins-crossed", "wiring/fuses-board") in codes
    assert not [code for code, _ in codes if code == "coil-pairs-crossed"]  # a mirror keeps pairs


def test_supply_wires_turned_at_the_board_are_told_before_power(larch: Machine) -> None:
    (one,) = found(with_run(larch, "wiring/fuses-board", to_pins=("0 V black", "24 V red")))
    assert one.code == "pins-crossed"
    assert one.weight == "stop"
    assert "24 V red goes to 0 V; 0 V black goes to 24 V" in one.says
    assert "Swap 0 V black and 24 V red in the plug at electronics/board:plus" in one.remedy


def test_leads_whose_colours_mean_the_other_pole_are_crossed(larch: Machine) -> None:
    blower = larch.part["toolhead/blower"].type
    other = with_pins(larch, "toolhead/blower", pins={**blower.pins, "leads": ("0 V red", "24 V black")})
    assert [(one.code, one.joint) for one in found(other)] == [("pins-crossed", "wiring/fan-part")]


def test_a_sensor_of_another_voltage_or_pin_order_is_crossed(larch: Machine) -> None:
    board = {**larch.part["electronics/board"].type.pins, "filament": ("24 V", "signal", "0 V")}
    (one,) = found(with_pins(larch, "electronics/board", pins=board))
    assert (one.code, one.joint) == ("pins-crossed", "wiring/filament")
    assert "24 V goes to 5 V" in one.says


def test_a_plug_of_another_number_of_pins_is_a_doubt_and_compares_nothing(larch: Machine) -> None:
    (one,) = found(with_run(larch, "wiring/fan-part", pins=("24 V red", "0 V black", "tacho")))
    assert (one.code, one.weight) == ("pin-count-differs", "doubt")


def test_what_no_map_says_is_not_judged(larch: Machine) -> None:
    silent = with_pins(larch, "electronics/board", pins={})
    assert found(silent) == []
    run = run_of(silent, "wiring/filament")
    assert connector(silent, run) == ()
    bare = with_run(silent, "wiring/motor-a", pins=())
    assert wires_of(bare, run_of(bare, "wiring/motor-a")) == ()


@pytest.mark.parametrize(
    ("pin", "says"),
    [
        ("24 V red", ("plus", 24.0)), ("+24V", ("plus", 24.0)), ("0 V", ("minus", None)),
        ("GND", ("minus", None)), ("+", ("plus", None)), ("- black", ("minus", None)),
        ("signal", ("signal", None)), ("L", ("live", None)),
        ("PE", ("earth", None)), ("3,3 V", ("plus", 3.3)), ("black", ("", None)), ("", ("", None)),
    ],
)  # fmt: skip
def test_a_pins_name_says_what_it_carries(pin: str, says: tuple[str, float | None]) -> None:
    assert carried(pin) == says


def test_every_order_of_four_wires_is_mended_by_one_swap_or_needs_none() -> None:
    board = ("A1", "A2", "B1", "B2")
    orders = [
        ("A1", "A2", "B1", "B2"), ("B1", "B2", "A1", "A2"), ("A1", "B1", "A2", "B2"),
        ("A1", "B2", "B1", "A2"), ("B1", "A1", "A2", "B2"), ("A2", "B1", "B2", "A1"),
    ]  # fmt: skip
    for order in orders:
        wires = [
            Wire(name=pin, near=near, far=pin, number=number)
            for number, (near, pin) in enumerate(zip(board, order, strict=True), 1)
        ]
        swap = swap_for_coils(wires)
        together = coil_of(order[0]) == coil_of(order[1])
        assert (swap is None) == together, order
        if swap is not None:
            after = list(order)
            one, two = (each.number - 1 for each in swap)
            after[one], after[two] = after[two], after[one]
            assert coil_of(after[0]) == coil_of(after[1]), order
            assert coil_of(after[2]) == coil_of(after[3]), order


def test_runs_whose_polarity_no_map_proves_are_told_in_one_hint(larch: Machine) -> None:
    assert not list(polarity_findings(larch))
    unmapped = with_run(with_run(larch, "wiring/fan-case", pins=()), "wiring/fuses-bed", to_pins=())
    (one,) = polarity_findings(unmapped)
    assert one.code == "polarity-unproved"
    assert "24 V bed, Case fan" in one.says
    assert one.value == 2


def test_a_light_minds_its_polarity_and_a_switch_a_heater_and_mains_do_not(larch: Machine) -> None:
    lit = with_pins(larch, "electronics/y-switch", name="LED strip 24 V")
    assert "wiring/end-y" in {run.joint for run in unproved(lit)}
    assert not any(run.role in ("heater", "mains", "motor") for run in unproved(lit))


def test_a_map_that_names_no_plus_proves_nothing(larch: Machine) -> None:
    odd = with_pins(larch, "panels/case-fan", pins={"leads": ("red", "black")})
    assert [run.joint for run in unproved(odd)] == ["wiring/fan-case"]
