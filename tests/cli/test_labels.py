"""`trysquare labels`: what it writes, what it says, and what it leaves alone."""

from __future__ import annotations

from pathlib import Path

import pytest

from command_line import Run


def test_labels_are_written_and_told(folder: Path, tmp_path: Path, run: Run) -> None:
    out = tmp_path / "new" / "labels.pdf"
    answer = run("labels", folder, "--out", out)
    assert answer.status == 0
    assert out.read_bytes().startswith(b"%PDF-")
    assert "100 %" in answer.out


@pytest.mark.parametrize("what", ["labels", "fasteners", "sorting"])
def test_the_facts_name_every_sort_with_letter_and_address(
    folder: Path, tmp_path: Path, run: Run, what: str
) -> None:
    facts = run("labels", folder, "--what", what, "--out", tmp_path / "x.pdf", "--json").json
    assert facts["what"] == what
    assert facts["pages"] >= 1
    assert facts["fonts"] == "ours"
    assert all(sort["address"].startswith("trysquare:frame/") for sort in facts["sorts"])
    if what == "labels":
        assert facts["labels"] == len(facts["sorts"])


def test_letters_are_those_of_the_sorting_command(folder: Path, tmp_path: Path, run: Run) -> None:
    (folder / "letters.toml").write_text('format = 1\n[letter.Q]\nparts = ["beam"]\n', encoding="utf-8")
    facts = run("labels", folder, "--out", tmp_path / "x.pdf", "--json").json
    assert {sort["part"]: sort["letter"] for sort in facts["sorts"]}["beam"] == "Q"


def test_a_spoilt_letters_file_is_a_problem_and_nothing_is_written(
    folder: Path, tmp_path: Path, run: Run
) -> None:
    (folder / "letters.toml").write_text("[letter", encoding="utf-8")
    answer = run("labels", folder, "--out", tmp_path / "x.pdf", "--json")
    assert answer.status == 2
    assert answer.json["problems"][0]["file"] == "letters.toml"
    assert not (tmp_path / "x.pdf").exists()


def test_what_is_no_pdf_is_not_written_over(folder: Path, tmp_path: Path, run: Run) -> None:
    out = tmp_path / "notes.pdf"
    out.write_text("my notes", encoding="utf-8")
    answer = run("labels", folder, "--out", out)
    assert answer.status == 2
    assert "is no PDF" in " ".join(answer.err.split())
    assert out.read_text(encoding="utf-8") == "my notes"


def test_labels_are_not_written_under_the_name_of_another_kind_of_file(
    folder: Path, tmp_path: Path, run: Run
) -> None:
    answer = run("labels", folder, "--out", tmp_path / "labels.txt")
    assert answer.status == 2
    assert "Name it labels.pdf" in " ".join(answer.err.split())
    assert not (tmp_path / "labels.txt").exists()


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["--sheet", "a4-3x9"], "a4-3x8"),
        (["--sheet", "a4-3x8", "--skip", "24"], "the sheet has 24 labels"),
        (["--sheet", "a4-3x8", "--page-size", "letter"], "--page-size"),
        (["--what", "sorting", "--skip", "1"], "--what labels"),
        (["--what", "fasteners", "--kind", "member"], "--kind"),
        (["--base", "javascript:alert(1)"], "phones in your workshop"),
        (["--skip", "-1"], "--skip"),
    ],
)
def test_what_cannot_be_is_refused_with_what_to_do(
    folder: Path, tmp_path: Path, run: Run, arguments: list[str], says: str
) -> None:
    out = tmp_path / "x.pdf"
    answer = run("labels", folder, "--out", out, *arguments)
    assert answer.status == 2
    assert says in " ".join(answer.err.split())
    assert not out.exists()
