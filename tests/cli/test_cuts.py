"""`trysquare cuts`: the PDF, its figures, and what it refuses."""

from __future__ import annotations

from pathlib import Path

from command_line import Run


def test_the_pdf_is_written_and_every_member_is_listed(folder: Path, tmp_path: Path, run: Run) -> None:
    out = tmp_path / "new" / "cuts.pdf"
    facts = run("cuts", folder, "--out", out, "--json").json
    assert out.read_bytes().startswith(b"%PDF")
    assert facts["members"]
    assert all(one["pieces"] == len(one["places"]) > 0 for one in facts["members"])
    assert facts["bars"] == []
    before = out.read_bytes()
    assert run("cuts", folder, "--out", out).status == 0
    assert out.read_bytes() == before


def test_bars_hold_every_piece_and_a_member_too_long_is_told(folder: Path, tmp_path: Path, run: Run) -> None:
    out = tmp_path / "cuts.pdf"
    facts = run("cuts", folder, "--out", out, "--bar-mm", 2000, "--json").json
    cut = [cut["part"] for bar in facts["bars"] for cut in bar["cuts"]]
    assert len(cut) == sum(one["pieces"] for one in facts["members"])
    answer = run("cuts", folder, "--out", out, "--bar-mm", 60)
    assert answer.status == 1
    assert "longer than a bar" in answer.out


def test_only_a_pdf_of_ours_is_written_over(folder: Path, tmp_path: Path, run: Run) -> None:
    other = tmp_path / "mine.pdf"
    other.write_text("notes", "utf-8")
    assert run("cuts", folder, "--out", other).status == 2
    assert run("cuts", folder, "--out", tmp_path / "cuts.svg").status == 2
    assert other.read_text("utf-8") == "notes"
