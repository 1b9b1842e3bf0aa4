"""Where parts come to stand: units in units, parts on parts and slots; circles; long chains; speed."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from machine.folders import good, problem_of, problems_of, read_well, write

BARE = {"machine.toml": 'format = 1\nname = "Bare"\n'}
RAIL = 'part = "rail 9x200"'


def test_units_in_a_circle_are_refused_once_for_each_circle(tmp_path: Path) -> None:
    heads = {"a": "b", "b": "c", "c": "a", "d": "a", "e": "e", "f": "frame"}
    files = {f"units/{name}.toml": f'[unit]\nin = "{parent}"\n' for name, parent in heads.items()}
    problems = problems_of(good(tmp_path, files))
    assert [(str(problem.where), problem.read) for problem in problems] == [
        ("units/a.toml:2, unit.a.in", "a in b in c in a"),
        ("units/e.toml:2, unit.e.in", "e in e"),
    ]
    assert problems[0].expected == "units that are not inside themselves"


def test_a_unit_in_an_unknown_unit_is_refused(tmp_path: Path) -> None:
    problem = problem_of(good(tmp_path, {"units/a.toml": '[unit]\nin = "fram"\n'}))
    assert (str(problem.where), problem.remedy) == ("units/a.toml:2, unit.a.in", "Did you mean 'frame'?")


def test_parts_that_stand_on_each_other_in_a_circle_are_refused_once(tmp_path: Path) -> None:
    rows = "[place]\n" + "".join(f'{a} = {{ {RAIL}, on = "{b}" }}\n' for a, b in ("ab", "bc", "ca", "da"))
    problem = problem_of(write(tmp_path, {**BARE, "units/u.toml": rows}))
    assert problem.read == "u/a on u/b on u/c on u/a"
    assert (str(problem.where), problem.expected) == (
        "units/u.toml:4, unit.u.place.c.on", "parts that do not stand on themselves",
    )  # fmt: skip


def test_a_chain_of_two_thousand_parts_is_no_trouble(tmp_path: Path) -> None:
    rows = [f'p{i} = {{ {RAIL}, on = "p{i + 1}", at_mm = [1, 0, 0] }}' for i in range(2000)]
    unit = "[place]\n" + "\n".join([*rows, f"p2000 = {{ {RAIL} }}"]) + "\n"
    machine = read_well(write(tmp_path, {**BARE, "units/u.toml": unit}))
    assert machine.part["u/p0"].placement.origin_mm.tolist() == [2000, 0, 0]
    assert [part.id for part in machine.placed[:2]] == ["u/p0", "u/p1"]


@pytest.mark.slow
def test_a_chain_of_a_thousand_units_is_no_trouble(tmp_path: Path) -> None:
    files = {f"units/u{i}.toml": f'[unit]\nin = "u{i + 1}"\nat_mm = [0, 1, 0]\n' for i in range(1000)}
    files["units/u1000.toml"] = ""
    files["units/u0.toml"] += f"[place]\np = {{ {RAIL} }}\n"
    machine = read_well(write(tmp_path, {**BARE, **files}))
    assert machine.part["u0/p"].placement.origin_mm.tolist() == [0, 1000, 0]


def test_a_part_that_points_up_keeps_its_own_z_towards_the_right(tmp_path: Path) -> None:
    ways = {"a": "+z", "b": "-z", "c": "-x"}
    unit = "[place]\n" + "".join(f'{name} = {{ {RAIL}, along = "{way}" }}\n' for name, way in ways.items())
    machine = read_well(write(tmp_path, {**BARE, "units/u.toml": unit}))
    up = [machine.part[f"u/{name}"].placement.turn[:, 2].tolist() for name in "abc"]
    assert up == [[1, 0, 0], [1, 0, 0], [0, 0, 1]]


def test_a_name_is_looked_up_in_its_own_unit_first(tmp_path: Path) -> None:
    files = {
        "units/a.toml": f'[place]\nbase = {{ {RAIL}, at_mm = [1, 0, 0] }}\ntop = {{ {RAIL}, on = "base" }}\n',
        "units/b.toml": f'[place]\nbase = {{ {RAIL}, at_mm = [2, 0, 0] }}\ntop = {{ {RAIL}, on = "base" }}\n'
        f'far = {{ {RAIL}, on = "a/base" }}\n',
    }
    machine = read_well(write(tmp_path, {**BARE, **files}))
    assert [machine.part[name].placement.origin_mm[0] for name in ("a/top", "b/top", "b/far")] == [1, 2, 1]


def test_a_part_that_is_a_rail_by_its_standard_counts_as_long_as_the_rail(tmp_path: Path) -> None:
    parts = (
        '[part.own]\nkind = "bought"\nstandard = "rail 9x200"\n'
        '[part.beam]\nkind = "member"\nprofile = "profile 20x20 slot 6"\nlength_mm = 300\n'
    )
    unit = '[place]\nbeam = { part = "beam" }\n'
    unit += 'rail = { part = "own", on = "beam:+z", from = "b", offset_mm = 20 }\n'
    machine = read_well(write(tmp_path, {**BARE, "parts.toml": parts, "units/u.toml": unit}))
    assert machine.part["u/rail"].placement.origin_mm.tolist() == [80, 0, 10]


def test_however_a_designation_is_spelt_it_is_one_type(tmp_path: Path) -> None:
    unit = '[place]\na = { part = "rail 9x200" }\nb = { part = "Rail 9 × 200" }\n'
    machine = read_well(write(tmp_path, {**BARE, "units/u.toml": unit}))
    assert machine.part["u/a"].type is machine.part["u/b"].type


def big(folder: Path) -> Path:
    """20 members with 25 plates and 25 joints each."""
    parts = (
        '[part.beam]\nkind = "member"\nprofile = "profile 20x20 slot 6"\nlength_mm = 600\n'
        '[part.tab]\nkind = "plate"\nsize_mm = [20, 20, 3]\n'
        'hole = [{ name = "m", at_mm = [10, 10], diameter_mm = 5.5 }]\n'
    )
    files = {**BARE, "parts.toml": parts}
    for index in range(20):
        rows = [f'beam = {{ part = "beam", at_mm = [0, {index * 100}, 0] }}']
        rows += [
            f'tab-{k} = {{ part = "tab", on = "beam:+z", offset_mm = {k * 22}, across_mm = -10 }}'
            for k in range(25)
        ]
        joints = [
            f'tab-{k} = {{ recipe = "plate-on-slots", through = "tab-{k}:m", screw = "ISO 7380-1 M5" }}'
            for k in range(25)
        ]
        files[f"units/u{index}.toml"] = "\n".join(["[place]", *rows, "[joint]", *joints]) + "\n"
    return write(folder, files)


def test_a_machine_of_five_hundred_parts_and_joints_is_read(tmp_path: Path) -> None:
    folder = big(tmp_path)
    machine = read_well(folder)
    assert (len(machine.placed), len(machine.joints), machine.findings) == (1520, 500, ())
    assert all(part.where is not None for part in machine.placed)
    assert np.allclose(machine.part["u3/tab-2"].placement.origin_mm, [44, 290, 10])
