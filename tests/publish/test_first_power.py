"""The first power's checks with the machine's own names; the book prints the same."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from trysquare.machine.load import load_machine
from trysquare.machine.values import Machine
from trysquare.publish import book_tables
from trysquare.publish.first_power import first_power
from trysquare.publish.tables import table

DEMO = Path(__file__).resolve().parents[2] / "demo"


@pytest.fixture(scope="module")
def larch() -> Machine:
    return load_machine(DEMO / "larch", [])


def test_the_order_is_safe(larch: Machine) -> None:
    # Source: common practice, no source: earth before mains, stop before motion, cold before heat
    names = [check.id for check in first_power(larch)]
    for earlier, later in (
        ("unplugged", "earth"), ("earth", "inspected"), ("inspected", "alone"), ("shorts", "alone"),
        ("alone", "polarity"), ("polarity", "board"), ("board", "motors"),
        ("stop", "motors"), ("switches", "homing"),
        ("homing", "cut-off"),
    ):  # fmt: skip
        assert names.index(earlier) < names.index(later)


def test_checks_name_what_this_machine_has(larch: Machine) -> None:
    own = {check.id: check.own for check in first_power(larch)}
    assert "bed-tag" in own["earth"]
    assert own["switches"] == "Switches: End X, End Y, End Z."
    assert "Motor Z left" in own["motors"]
    assert "24 V bed 10 A" in own["shorts"]
    assert "Hot end 14.118 Ω" in own["resistance"]


def test_the_book_prints_the_same_checks(larch: Machine) -> None:
    printed = [row["check"] for phase in book_tables.first_power(larch) for row in phase["rows"]]
    assert [text.replace("\u200b", "") for text in printed] == [check.words for check in first_power(larch)]


def test_every_check_of_the_table_has_an_id_of_its_own() -> None:
    names = [row["id"] for row in table("first_power")]
    assert len(set(names)) == len(names)


def test_runs_without_a_map_of_plus_and_minus_are_named_where_they_are_measured(larch: Machine) -> None:
    own = {check.id: check.own for check in first_power(larch)}
    assert own["polarity"] == ""
    joints = tuple(
        replace(one, cable=replace(one.cable, pins=()))
        if one.id == "wiring/fan-case" and one.cable is not None
        else one
        for one in larch.joints
    )
    own = {check.id: check.own for check in first_power(replace(larch, joints=joints))}
    assert own["polarity"] == "Not proved by a map: Case fan."
