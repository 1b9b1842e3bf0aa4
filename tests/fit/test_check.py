"""The whole answer: what could not be checked, and the order of what was found."""

from __future__ import annotations

from pathlib import Path

from fit.folders import codes, machine_of, only
from trysquare.fit.check import check_fit
from trysquare.ground.findings import Weight, finding_kinds
from trysquare.machine.load import load_machine

SHAPELESS = '\n[part.box]\nkind = "bought"\n'


def test_a_part_without_a_shape_is_noted_once_for_its_type(tmp_path: Path) -> None:
    place = 'box1 = { part = "box", at_mm = [0, 0, 500] }\nbox2 = { part = "box", at_mm = [50, 0, 500] }\n'
    found = only(tmp_path, parts=SHAPELESS, place=place)
    assert (found.code, found.weight) == ("no-solid", Weight.NOTE)
    assert found.parts == ("frame/box1", "frame/box2")
    assert "overlap not checked" in found.says


def test_a_shape_that_cannot_be_used_is_a_doubt_and_the_rest_is_checked(tmp_path: Path) -> None:
    (tmp_path / "shapes").mkdir()
    (tmp_path / "shapes" / "duct.stl").write_bytes(b"solid nothing")
    found = only(
        tmp_path,
        parts='\n[part.duct]\nkind = "printed"\nshape = "shapes/duct.stl"\n',
        place='duct = { part = "duct", at_mm = [0, 0, 500] }\n',
    )
    assert (found.code, found.weight) == ("shape-unusable", Weight.DOUBT)
    assert "shapes/duct.stl" in found.says


def test_a_list_without_joints_says_what_is_not_checked(tmp_path: Path) -> None:
    (tmp_path / "machine.toml").write_text('format = 1\nname = "List"\n', encoding="utf-8")
    (tmp_path / "list.csv").write_text("part,pieces\nISO 4762 M3x8,12\n", encoding="utf-8")
    assert codes(check_fit(load_machine(tmp_path))) == ["no-joints"]


def test_findings_come_heaviest_first_then_by_unit_and_code(tmp_path: Path) -> None:
    machine = machine_of(
        tmp_path,
        ("size_mm = [40, 30, 3]", "size_mm = [40, 30, 2.5]"),  # a note: the tip near the floor
        (
            'name = "c", at_mm = [15, 15], diameter_mm = 3.4',
            'name = "c", at_mm = [15, 15], diameter_mm = 3.1',
        ),
        ('ISO 4762 M3x8" }\nshelf', 'ISO 4762 M3x10" }\nshelf'),  # a stop: into the block
    )
    assert codes(check_fit(machine)) == ["screw-too-long", "hole-tight", "tip-near-floor"]


def test_a_finding_points_at_its_joint_s_line_when_that_is_known(tmp_path: Path) -> None:
    machine = machine_of(tmp_path, ("ISO 7380-1 M5x8", "ISO 7380-1 M5x10"))
    (found,) = check_fit(machine)
    assert found.where is not None
    assert (found.where.file, found.where.key) == ("units/frame.toml", "unit.frame.joint.plate")


def test_every_code_of_this_room_is_explained() -> None:
    ours = {
        "screw-too-short", "screw-too-long", "tip-near-floor", "wrong-thread", "set-screw-too-short",
        "hole-too-small", "hole-tight", "hole-off-line", "hole-missing", "head-too-big", "head-unlike-hole",
        "head-above-rail", "head-stands-proud", "access-hole-missing", "access-hole-too-small",
        "access-hole-tight", "nut-unfit-for-slot", "nuts-too-close", "nut-over-slot-end",
        "torque-above-weakest", "torque-above-estimate", "revision-mismatch", "belts-unequal",
        "few-teeth-in-mesh", "block-runs-off-rail", "axis-across-rail", "axis-tears-joint", "in-moving-path",
        "overlap", "no-solid", "shape-unusable", "no-joints",
    }  # fmt: skip
    kinds = finding_kinds()
    assert ours <= set(kinds)
    for code in ours:
        assert kinds[code].consequence, code
        assert kinds[code].remedy, code
