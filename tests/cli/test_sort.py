"""`trysquare sort`: the sheet, counts, lengths and letters on the command line."""

from __future__ import annotations

from pathlib import Path

import pytest

from command_line import Run
from trysquare.cli.main import trysquare

LARCH = Path(__file__).parents[2] / "demo" / "larch"


@pytest.fixture(autouse=True)
def known_command(monkeypatch: pytest.MonkeyPatch) -> None:
    """The command is there, whether or not the list of commands names it yet."""
    monkeypatch.setitem(trysquare.table, "sort", ("trysquare.cli.sort", ""))


@pytest.mark.slow
def test_the_sheet_tells_looks_look_alikes_and_what_is_least_work(run: Run) -> None:
    answer = run("sort", LARCH, "--of", "profile bar")
    assert answer.status == 0
    assert "1  Lay them by length, side by side against a stop" in answer.out
    assert "look the same from a face with two holes" in answer.out
    assert "the least that any order of these looks takes" in " ".join(answer.out.split())


@pytest.mark.slow
def test_text_and_json_name_the_same_letters_and_pieces(run: Run) -> None:
    facts = run("sort", LARCH, "--of", "ISO 4762 *", "--json").json
    text = run("sort", LARCH, "--of", "ISO 4762 *").out
    (section,) = facts["sections"]
    assert section["least_possible"]
    for sort in section["sorts"]:
        assert f"{sort['letter']}" in text
        assert sort["name"] in text
    assert section["pieces"] == sum(sort["pieces"] for sort in section["sorts"])
    assert section["key"]["answers"][0]["then"]["pieces"] >= 1


@pytest.mark.slow
def test_letters_do_not_depend_on_what_is_picked(run: Run) -> None:
    def letters(*words: str) -> dict[str, str]:
        sections = run("sort", LARCH, *words, "--json").json["sections"]
        return {
            part: sort["letter"]
            for section in sections
            for sort in section["sorts"]
            for part in sort["parts"]
        }

    everything = letters()
    picked = letters("--of", "upright-*")
    assert len(picked) == 2
    assert picked.items() <= everything.items()


@pytest.mark.slow
def test_a_wrong_count_ends_with_one_and_says_where_the_piece_most_likely_lies(run: Run) -> None:
    (section,) = run("sort", LARCH, "--of", "upright-*", "--json").json["sections"]
    front, back = (sort["letter"] for sort in section["sorts"])
    answer = run("sort", LARCH, "--of", "upright-*", "--found", f"{front}=1,{back}=3")
    assert answer.status == 1
    assert f"one of {front} lies in {back}" in answer.out
    assert "To see: turn each once round" in answer.out
    right = run("sort", LARCH, "--of", "upright-*", "--found", f"{front}=2,{back}=2")
    assert (right.status, "All counts agree." in right.out) == (0, True)


@pytest.mark.slow
@pytest.mark.parametrize("found", ["A=-1", "nowhere.csv", "ZZZ=1", "A"])
def test_counts_that_are_none_end_with_two(run: Run, found: str) -> None:
    answer = run("sort", LARCH, "--found", found)
    assert answer.status == 2
    assert answer.out == ""
    assert "remedy" in answer.err
    assert run("sort", LARCH, "--found", found, "--json").json["problems"]


def test_nothing_of_that_name_is_answered_with_the_nearest(run: Run) -> None:
    answer = run("sort", LARCH, "--of", "upright-frnt")
    assert answer.status == 2
    assert "upright-front" in answer.err


@pytest.mark.slow
def test_lengths_give_places_and_what_their_differences_do(run: Run, tmp_path: Path) -> None:
    path = tmp_path / "lengths.csv"
    path.write_text("part,length_mm\nz-post,370.1\nz-post,369.9\n", encoding="utf-8")
    answer = run("sort", LARCH, "--lengths", path)
    assert answer.status == 0
    assert "posts/left-post and posts/right-post" in " ".join(answer.out.split())
    (pair,) = run("sort", LARCH, "--lengths", path, "--json").json["matched"]["pairs"]
    assert abs(pair["lean_mm_per_100"]) == pytest.approx(0.1)


@pytest.mark.slow
def test_letters_are_kept_only_when_asked_and_stay_when_parts_come_before_them(
    run: Run, folder: Path
) -> None:
    def letters() -> dict[str, str]:
        sections = run("sort", folder, "--json").json["sections"]
        return {
            part: sort["letter"]
            for section in sections
            for sort in section["sorts"]
            for part in sort["parts"]
        }

    run("sort", folder)
    assert not (folder / "letters.toml").exists()
    before = letters()
    assert run("sort", folder, "--keep").status == 0
    kept = (folder / "letters.toml").read_text(encoding="utf-8")
    parts = folder / "parts.toml"
    text = parts.read_text(encoding="utf-8")
    parts.write_text(text.replace("[part.beam]", "[part.aa-beam]"), encoding="utf-8")
    unit = folder / "units" / "frame.toml"
    unit.write_text(
        unit.read_text(encoding="utf-8").replace('part = "beam"', 'part = "aa-beam"'), encoding="utf-8"
    )
    after = letters()
    new = after.pop("aa-beam")
    assert after.items() <= before.items()
    assert new not in before.values() or new == before["beam"]
    run("sort", folder, "--keep")
    assert kept != (folder / "letters.toml").read_text(encoding="utf-8")


def test_a_damaged_letters_file_is_named(run: Run, folder: Path) -> None:
    (folder / "letters.toml").write_text("[letter.A", encoding="utf-8")
    answer = run("sort", folder)
    assert answer.status == 2
    assert "letters.toml" in answer.err


def test_parts_of_which_nothing_is_known_are_named_as_such(run: Run) -> None:
    reed = LARCH.parent / "reed"
    assert "cannot be told by what is known of them" in " ".join(run("sort", reed).out.split())
    facts = run("sort", reed, "--json").json
    assert any(section["cannot_be_told"] for section in facts["sections"])


def test_the_help_has_examples_that_run(run: Run) -> None:
    text = run("sort", "--help").out
    assert "--found" in text
    assert "trysquare sort demo/larch" in text
