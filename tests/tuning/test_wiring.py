"""Cable runs of the demo machine, and runs of our own that are wrong in one thing each."""

from __future__ import annotations

import itertools
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from trysquare.ground.errors import ReadingErrors
from trysquare.machine.load import load_machine
from trysquare.machine.values import CableRun, Machine
from trysquare.tuning.earth import EarthReading, earth_points, parse_earth
from trysquare.tuning.wiring import RunFigures, figures_of, runs_of
from trysquare.tuning.wiring_bundles import bundles_of
from trysquare.tuning.wiring_circuits import heater_circuits, supplies_of
from trysquare.tuning.wiring_places import pins_part
from trysquare.tuning.wiring_reach import reaches
from trysquare.tuning.wiring_report import WiringAsked, wiring_report

LARCH = Path(__file__).resolve().parents[2] / "demo" / "larch"

RUN = CableRun(
    joint="j", wire="wire AWG 16", cores=2, label="Bed", from_terminal="a:x", to_terminal="b:y", ampere=8.3,
    volt=24, length_mm=1000, points_mm=((0, 0, 0), (1000, 0, 0)), through=(), openings_mm=(), plug_mm=0,
    role="heater", contact_ampere=10,
)  # fmt: skip


@pytest.fixture(scope="module")
def larch() -> Machine:
    return load_machine(LARCH, [])


@pytest.fixture(scope="module")
def figures(larch: Machine) -> list[RunFigures]:
    return figures_of(runs_of(larch))


def judged(**changes: object) -> RunFigures:
    return figures_of([replace(RUN, **changes)])[0]  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"wire": "wire AWG 22"}, "planned for 3 A"),
        ({"length_mm": 6000}, "5% is the limit"),
        ({"contact_ampere": 3}, "melt its housing"),
        ({"fuse_ampere": 15}, "the wire would burn first"),
        ({"fuse_ampere": 7.5}, "blows at its own"),
        ({"fuse_ampere": 10, "contact_ampere": 9}, "larger than what its contact bears"),
        ({"ampere": 416.7}, "10.0 kW"),
        ({"ampere": 0}, "No current is said"),
        ({"volt": 0}, "carries nothing"),
    ],
)
def test_a_run_wrong_in_one_thing_is_bad_for_that(changes: dict[str, object], says: str) -> None:
    found = judged(**changes)
    assert any(says in " ".join(one.split()) for one in found.bad)


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"contact_ampere": 0}, "contact_ampere"),
        ({"ampere": 9.9, "wire": "wire AWG 16"}, "wire AWG 12"),
        ({"role": "mains", "volt": 230, "ampere": 3, "cores": 3}, "inlet's fuse"),
    ],
)
def test_what_is_not_known_is_said_and_never_taken_as_good(changes: dict[str, object], says: str) -> None:
    found = judged(**changes)
    assert not found.bad
    assert any(says in one for one in found.open)


def test_a_sound_run_has_nothing_said_of_it() -> None:
    found = judged(ampere=6.7)
    assert (found.bad, found.open, found.fuse_advised) == ((), (), 10.0)


def test_a_single_core_loses_once_and_a_pair_twice() -> None:
    assert judged(cores=2).drop_volt == pytest.approx(2 * judged(cores=1).drop_volt)


def test_the_demo_s_heaters_get_their_voltage_from_the_supply_on(
    larch: Machine, figures: list[RunFigures]
) -> None:
    circuits = {one.label: one for one in heater_circuits(larch, figures)}
    bed = circuits["Bed +, Bed cut-off, Bed -"]
    assert len(bed.runs) == 5
    # Source: sum of 2·L·R′·I by hand, AWG 16 13.174 and 2.5 mm² 7.98 Ω/km, 50 °C: + 11.8 %
    by_hand = 1.1179 * (2 * 0.173 * 7.98e-3 * 11.3 + (2 * 0.181 + 0.660 + 0.086 + 0.631) * 13.174e-3 * 6.7)
    assert bed.drop_volt == pytest.approx(by_hand, rel=0.01)


def test_a_supply_s_load_and_deratings_multiply(larch: Machine, figures: list[RunFigures]) -> None:
    cool = supplies_of(larch, figures, rated_watt=None, air_celsius=40, low_line=1)[0]
    warm = supplies_of(larch, figures, rated_watt=None, air_celsius=60, low_line=0.9)[0]
    assert cool.rated_watt == 350
    assert cool.share == pytest.approx(11.3 * 24 / 350)
    assert cool.usable == pytest.approx(0.8)
    assert warm.usable == pytest.approx(0.8 * 0.75 * 0.9)


def test_the_worst_corner_is_found_by_trying_all(larch: Machine, figures: list[RunFigures]) -> None:
    # Source: own search over every corner of x and y for the hot end's wires, clip to anchor
    run = next(one.run for one in figures if one.run.label == "Hot end")
    reach = reaches(larch, [run])[0]
    axes = {axis.id: axis for axis in larch.axes}
    anchor = np.array(run.points_mm[-2])
    clip = np.array(run.points_mm[-3])
    furthest = 0.0
    for x, y in itertools.product((0.0, axes["x"].travel_mm), (0.0, axes["y"].travel_mm)):
        shift = np.array([x - axes["x"].at_mm, y - axes["y"].at_mm, 0.0])
        furthest = max(furthest, float(np.linalg.norm(anchor + shift - clip)))
    assert reach.needs_mm == pytest.approx(furthest, abs=0.5)
    assert set(reach.corner) == {"x", "y"}


def test_slack_taken_from_a_loom_is_missed_at_the_worst_corner(
    larch: Machine, figures: list[RunFigures]
) -> None:
    run = next(one.run for one in figures if one.run.label == "Hot end")
    whole = reaches(larch, [run])[0]
    shorter = reaches(larch, [replace(run, length_mm=run.length_mm - 100)])[0]
    assert whole.spare_mm - shorter.spare_mm == pytest.approx(100)


def test_what_stands_has_no_reach(larch: Machine, figures: list[RunFigures]) -> None:
    run = next(one.run for one in figures if one.run.label == "24 V bed")
    assert reaches(larch, [run]) == []


def test_a_bundle_too_thick_or_too_warm_is_known() -> None:
    hot = replace(RUN, ampere=10, through=("clip",), openings_mm=(6.0,))
    bundle = bundles_of(figures_of([hot] * 6))[0]
    assert bundle.too_thick
    assert bundle.too_warm
    cool = bundles_of(figures_of([replace(hot, ampere=1, openings_mm=(20.0,))]))[0]
    assert not cool.too_thick
    assert not cool.too_warm


def test_every_earth_tag_of_the_demo_is_a_point_with_its_wires(
    larch: Machine, figures: list[RunFigures]
) -> None:
    points, strangers = earth_points(
        larch, figures, [EarthReading(point="nowhere", ohm=1, within_ohm=0.1)], 0
    )
    tags = [part.id for part in larch.placed if part.type.id == "earth-tag"]
    assert set(tags) <= {one.part for one in points}
    assert strangers == ["nowhere"]
    assert all(one.wires_ohm is not None and 0 < one.wires_ohm < 0.1 for one in points)
    assert {one.state for one in points} == {"not read"}


@pytest.mark.parametrize(
    ("ohm", "within", "state"),
    [(0.04, 0.02, "good"), (0.04, 0.2, "cannot tell"), (2.4, 0.2, "bad"), (1e6, 0.2, "bad")],
)
def test_an_earth_reading_is_judged_within_its_meter(
    larch: Machine, figures: list[RunFigures], ohm: float, within: float, state: str
) -> None:
    reading = EarthReading(point="bed-tag", ohm=ohm, within_ohm=within)
    points, _ = earth_points(larch, figures, [reading], 0)
    assert next(one.state for one in points if one.part == "electronics/bed-tag") == state


def test_faults_of_an_earth_list_are_told() -> None:
    with pytest.raises(ReadingErrors) as told:
        parse_earth("point,ohm\ntag,-1\n,0.1\nbed,x\n", "earth.csv")
    assert len(told.value.problems) == 3


def test_pins_are_mirrored_for_the_other_half() -> None:
    run = replace(RUN, role="motor", cores=4, pins=("a", "b", "c", "d"), pins_seen="mating side")
    part = pins_part(figures_of([run]))
    assert part is not None
    assert part.tables[0].rows[0][2:] == ("d | c | b | a", "a | b | c | d")
    wrong = pins_part(figures_of([replace(run, pins=("a", "b"))]))
    assert wrong is not None
    assert wrong.verdict == "bad"


def test_the_demo_s_report_defers_to_codes_and_carries_its_cautions(larch: Machine) -> None:
    report = wiring_report(larch, WiringAsked())
    assert set(report.cautions) >= {"mains", "earth", "selector", "heater", "terminals"}
    assert any("licensed" in says for part in report.parts for says in part.says)
    assert next(part for part in report.parts if part.of == "earth points").verdict == "cannot tell"


def test_a_machine_without_cables_cannot_be_told() -> None:
    report = wiring_report(load_machine(LARCH.parent / "reed", []), WiringAsked())
    assert report.verdict == "cannot tell"


def test_a_bridge_between_two_points_of_one_part_is_taken_as_it_is(larch: Machine) -> None:
    joint = next(one for one in larch.joints if one.cable is not None and one.cable.role == "supply")
    cable = joint.cable
    assert cable is not None
    bridge = replace(cable, to_terminal=cable.from_terminal.partition(":")[0] + ":other")
    changed = replace(joint, parts=joint.parts[:1], cable=bridge)
    machine = replace(larch, joints=tuple(changed if one is joint else one for one in larch.joints))
    assert wiring_report(machine, WiringAsked()).parts
