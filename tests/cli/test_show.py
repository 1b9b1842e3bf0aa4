"""`trysquare show`: one thing, everything known of it, and who says so."""

from __future__ import annotations

from pathlib import Path

import pytest

from command_line import DEMO, Run
from small_frame import write_frame


def shown(run: Run, folder: Path, what: str) -> list[dict[str, object]]:
    found: list[dict[str, object]] = run("show", folder, what, "--json").json["shown"]
    return found


def test_the_overview_names_units_members_joints_papers_and_steps(folder: Path, run: Run) -> None:
    text = run("show", folder).out
    for word in (
        "frame",
        "drive",
        "post",
        "frame/ends",
        "upgrade",
        "manual",
        "Nuts into the beam",
        "travel 60 mm",
    ):
        assert word in text
    facts = run("show", folder, "--json").json
    assert [paper["paper"] for paper in facts["papers"]] == ["manual", "upgrade"]
    assert {unit["unit"] for unit in facts["units"]} == {"frame", "drive"}


@pytest.mark.slow
@pytest.mark.parametrize(
    ("what", "sort"),
    [
        ("frame", "step"),
        ("unit.frame", "unit"),
        ("frame/left", "placed part"),
        ("left", "placed part"),
        ("unit.frame.place.left", "placed part"),
        ("unit.frame.place.left.at_mm", "placed part"),
        ("frame/rail/screw.3", "placed part"),
        ("frame/ends", "joint"),
        ("ends", "joint"),
        ("frame/ends.1", "screw"),
        ("step.nuts", "step"),
        ("upgrade", "paper"),
        ("post", "part type"),
        ("part.post", "part type"),
        ("iso 4762 m3x6", "part type"),
        ("rail screw S6", "part type"),
        ("x", "axis"),
        ("corner", "characteristic"),
        ("square", "instrument"),
    ],
)
def test_a_word_finds_its_thing(folder: Path, run: Run, what: str, sort: str) -> None:
    assert sort in {thing["sort"] for thing in shown(run, folder, what)}
    answer = run("show", folder, what)
    assert answer.status == 0
    assert sort in answer.out


def test_a_name_that_part_and_joint_share_shows_both(folder: Path, run: Run) -> None:
    assert [thing["sort"] for thing in shown(run, folder, "frame/rail")] == ["placed part", "joint"]


def test_a_screw_is_told_with_length_thread_key_and_torque(folder: Path, run: Run) -> None:
    (thing,) = shown(run, folder, "frame/ends")
    screw = thing["screws"][0]  # type: ignore[index]
    assert (screw["length_mm"], screw["key_mm"]) == (12.0, 3.0)
    assert screw["engaged_mm"] >= screw["needed_mm"] > 0
    assert screw["torque_newton_metre"] > screw["snug_newton_metre"] > 0
    text = run("show", folder, "frame/ends").out
    assert "hexagon key 3 mm, through the 5.5 mm access hole" in text
    assert "N·m at most, limited by" in text


def test_a_member_tells_what_lies_in_its_slots(folder: Path, run: Run) -> None:
    (thing,) = (row for row in shown(run, folder, "frame/beam") if row["sort"] == "placed part")
    rows = thing["in_its_slots"]
    assert [row["from_end_a_mm"] for row in rows if row["face"] == "+z"] == [  # type: ignore[attr-defined]
        90.0 + 20 * index for index in range(10)
    ]


def test_who_says_so_names_paper_page_and_reason(folder: Path, run: Run) -> None:
    text = run("show", folder, "frame/plate").out
    assert "upgrade replaces unit.frame.joint.plate.screw" in text
    assert "The plate of this kit is thicker." in text
    assert "papers/upgrade.toml" in text


def test_an_overruled_word_is_marked(tmp_path: Path, run: Run) -> None:
    paper = (
        'title = "{0}"\nkind = "modification"\nedition = "1"\nover = [{2}]\n[[replace]]\n'
        'line = "unit.frame.joint.plate"\nwith = {{ screw = "ISO 7380-1 M5x{1}" }}\n'
    )
    folder = write_frame(
        tmp_path,
        papers__one_toml=paper.format("One", 10, ""),
        papers__two_toml=paper.format("Two", 12, '"one"'),
    )
    assert "ISO 7380-1 M5x10 (overruled)" in " ".join(run("show", folder, "frame/plate").out.split()).replace(
        "'", ""
    )
    assert "one" in [said["paper"] for said in run("show", folder, "--json").json["overruled"]]


def test_an_unknown_thing_is_answered_with_the_nearest(folder: Path, run: Run) -> None:
    answer = run("show", folder, "frame/lefd")
    assert (answer.status, answer.out) == (2, "")
    assert "Did you mean 'frame/left'?" in answer.err


def test_text_and_json_of_a_joint_have_the_same_facts(folder: Path, run: Run) -> None:
    (thing,) = (row for row in shown(run, folder, "unit.frame.joint.rail"))
    flat = "".join(run("show", folder, "unit.frame.joint.rail").out.split())
    for screw in thing["screws"]:  # type: ignore[attr-defined]
        for word in (screw["screw"], screw["designation"], screw["slot"], f"hexagonkey{screw['key_mm']:g}mm"):
            assert "".join(word.split()) in flat
    for part in thing["parts"]:  # type: ignore[attr-defined]
        assert part in flat


@pytest.mark.parametrize("word", ["profile 20x20 slot 6", "20x20", "20×20 slot 6"])
def test_a_profile_is_found_by_its_name_and_tells_the_members_cut_from_it(run: Run, word: str) -> None:
    (thing,) = run("show", DEMO / "larch", word, "--json").json["shown"]
    assert (thing["sort"], thing["id"]) == ("profile", "profile 20x20 slot 6")
    lengths = [row["length_mm"] for row in thing["members"]]
    assert lengths == sorted(lengths, reverse=True)
    assert thing["together_mm"] == sum(row["length_mm"] * row["pieces"] for row in thing["members"])
    assert "upright-back" in run("show", DEMO / "larch", word).out


def test_a_word_that_names_no_profile_shows_none(run: Run) -> None:
    assert run("show", DEMO / "larch", "profile").status == 2


def test_a_joint_tells_in_which_order_its_screws_are_tightened(run: Run) -> None:
    text = " ".join(run("show", DEMO / "larch", "unit.motion.joint.left-motor").out.split())
    assert "tighten crosswise, each screw and then the one opposite: 1, 3, 2, 4" in text
    (thing,) = shown(run, DEMO / "reed-joints", "unit.carriage.joint.block-screws")
    face = thing["orders"][0]  # type: ignore[index]
    assert [name.rpartition(".")[2] for name in face["screws"]] == ["1", "4", "2", "3"]
