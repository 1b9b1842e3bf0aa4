"""Assemblies whose every part another kernel drew and wrote: nameless, turned, threads drawn or not.

Source: each file's own rows, what its parts were drawn from (see files/README.md).
"""

from __future__ import annotations

import functools
import gzip
import json
import lzma
from collections import Counter
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from intake.assembled import INCH_MM, Assembled
from intake.made_step import some_placement
from intake.taken import Back, counted, member_holes, members, rides, screws, written
from trysquare.ground.placement import Placement
from trysquare.intake.cad_file import read_cad
from trysquare.intake.rulings import Memory
from trysquare.intake.taken_in import taken_in
from trysquare.machine.load import load_machine

FILES = Path(__file__).parent / "files"
WHOLE = 77  # the seed of the whole assembly's placement
ASKED = 0.95
SLIDERS = ["slider-smlib", "slider-arris", "slider-kentron", "slider-arris-rounded"]

pytestmark = [pytest.mark.outside, pytest.mark.slow]


@functools.cache
def facts(name: str) -> dict[str, Any]:
    packed = (FILES / "assemblies" / f"{name}.json.xz").read_bytes()
    read: dict[str, Any] = json.loads(lzma.decompress(packed))
    return read


def come_back(name: str, folder: Path) -> Back:
    """The assembly put together as one file, read and taken in."""
    said = facts(name)
    whole = Assembled(INCH_MM if said["unit"] == "inch" else 1.0)
    parts = [whole.part(part_text(text)) for text in said["parts"]]
    frames = [placement(rows).inverse() for rows in said["frames"]]
    standing = some_placement(WHOLE)
    uses = [(parts[kind], standing.then(placement(rows)).then(frames[kind])) for kind, rows in said["pieces"]]
    (folder / "x.step").write_text(whole.whole(uses))
    taken = taken_in(read_cad(folder / "x.step"), Memory())
    written(folder / "x", taken)
    machine = load_machine(folder / "x")
    return Back(machine, taken, machine, standing)


def part_text(text: str) -> str:
    """What a part's writer wrote; "file …" names one of the other tests' files."""
    if not text.startswith("file "):
        return text
    return gzip.decompress((FILES / f"{text.removeprefix('file ')}.step.gz").read_bytes()).decode()


def placement(rows: Sequence[Sequence[float]]) -> Placement:
    matrix = np.array(rows)
    return Placement(matrix[:, :3], matrix[:, 3])


def expected(name: str, what: str) -> Counter[tuple[object, ...]]:
    return Counter({tuple(as_tuple(each) for each in row[:-1]): row[-1] for row in facts(name)[what]})


def as_tuple(value: object) -> object:
    return tuple(as_tuple(each) for each in value) if isinstance(value, list) else value


def share(found: Counter[tuple[object, ...]], wanted: Counter[tuple[object, ...]]) -> float:
    return (found & wanted).total() / wanted.total()


@pytest.mark.parametrize("name", SLIDERS)
def test_a_slider_of_another_kernel_comes_back_screw_by_screw(name: str, tmp_path: Path) -> None:
    back = come_back(name, tmp_path)
    assert members(back, back.machine) == expected(name, "members")
    assert screws(back, back.machine) == expected(name, "screws")
    standard = {one: count for (one,), count in expected(name, "standard").items()}
    assert counted(back.machine) == standard
    assert rides(back, back.machine) == {as_tuple(each) for each in facts(name)["rides"]}


def test_of_a_frame_of_another_kernel_95_in_100_come_back(tmp_path: Path) -> None:
    # two sorts of fasteners are of a third program, with threads drawn as bodies of their own
    name = "frame-smlib"
    back = come_back(name, tmp_path)
    assert {problem.code for problem in back.taken.assembly.problems} == {"inch", "thread-apart"}
    assert members(back, back.machine) == expected(name, "members")
    assert share(screws(back, back.machine), expected(name, "screws")) >= ASKED
    standard = Counter({(one,): count for one, count in counted(back.machine).items()})
    assert share(standard, expected(name, "standard")) >= ASKED
    assert rides(back, back.machine) >= {as_tuple(each) for each in facts(name)["rides"]}


def test_of_a_frame_with_rounded_edges_95_in_100_come_back(tmp_path: Path) -> None:
    # members' outer edges and lips, and every hole's mouths are rounded
    name = "frame-smlib-rounded"
    back = come_back(name, tmp_path)
    assert members(back, back.machine) == expected(name, "members")
    assert share(screws(back, back.machine), expected(name, "screws")) >= ASKED
    standard = Counter({(one,): count for one, count in counted(back.machine).items()})
    assert share(standard, expected(name, "standard")) >= ASKED
    assert rides(back, back.machine) >= {as_tuple(each) for each in facts(name)["rides"]}


@pytest.mark.parametrize("name", ["frame-smlib", "frame-smlib-rounded"])
def test_holes_of_a_frame_of_another_kernel_come_back_where_they_are(name: str, tmp_path: Path) -> None:
    back = come_back(name, tmp_path)
    found = without_use(member_holes(back, back.machine))
    assert share(found, without_use(expected(name, "holes"))) == 1.0


def without_use(holes: Counter[tuple[object, ...]]) -> Counter[tuple[object, ...]]:
    """Without what the hole is for: the pieces that tell are not all in the file."""
    return Counter({key[:3]: count for key, count in holes.items()})
