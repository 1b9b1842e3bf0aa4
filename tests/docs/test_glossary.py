"""The words of the trade: one glossary, the bench's own, and a way to it where a page first uses one."""

import re
from pathlib import Path

import pytest

from trysquare.bench.words import bench_words
from trysquare.cli.docs import glossary_page, heading_anchor

ROOT = Path(__file__).resolve().parents[2]
# Derived pages, and those for whoever works on the program.
LEFT_OUT = {
    "cli.md",
    "findings.md",
    "glossary.md",
    "log.md",
    "evidence.md",
    "benchmarks.md",
    "faults.md",
    "bring_cad.md",
    "bringing_lists.md",
}
PAGES = [
    *(path for path in sorted((ROOT / "docs").rglob("*.md")) if path.name not in LEFT_OUT),
    ROOT / "README.md",
]
# Term of the glossary and how it looks in a sentence.
FIRST_USES = {
    "snug": r"snug",
    "datum": r"datum",
    "pinch-rod": r"pinch rods?",
    "feeler": r"feeler (?:leaf|leaves)",
    "characteristic": r"characteristics?",
    "member": r"members?",
    "blind-joint": r"blind joints?",
    "key-line": r"key lines?",
    "look-alike": r"look-alikes?",
    "ruling": r"rulings?",
    "access-hole": r"access holes?",
    "controller-rules": r"AMIGO|SIMC|IMC|CHR",
}
_LINES = re.DOTALL | re.MULTILINE
# Code, remarks, headings, tables and pictures: no sentences, or not ours to put a link in.
NO_PROSE = re.compile(r"```.*?```|`[^`\n]*`|<!--.*?-->|^#+ [^\n]*$|^\|[^\n]*$|!\[[^\]]*\]", _LINES)


def unexplained(text: str) -> list[str]:
    """Terms that a page uses in a sentence before, or without, leading to their place in the glossary."""
    prose = NO_PROSE.sub("", text)
    missing = []
    for term, looks in FIRST_USES.items():
        used = re.search(rf"(?<![\w#/-])(?:{looks})(?![\w-])", prose, re.IGNORECASE)
        link = prose.find(f"glossary.md#{heading_anchor(bench_words()[term].word)})")
        if used and not 0 <= link <= used.end() + 120:
            missing.append(term)
    return missing


@pytest.mark.parametrize("page", PAGES, ids=lambda path: path.relative_to(ROOT).as_posix())
def test_a_word_of_the_trade_leads_to_the_glossary_where_a_page_first_uses_it(page: Path) -> None:
    assert not unexplained(page.read_text("utf-8"))


def test_a_word_without_a_way_to_the_glossary_is_found() -> None:
    assert unexplained("Turn the screws snug.") == ["snug"]
    assert unexplained("Turn the screws [snug](glossary.md#snug), then snug again.") == []
    assert unexplained(f"Snug. {'Much is said. ' * 12} [snug](glossary.md#snug)") == ["snug"]


def test_the_glossary_says_what_the_bench_says_of_every_word() -> None:
    page = glossary_page()
    for word in bench_words().values():
        assert f"### {word.word}\n\n{word.says}" in page
        for other in word.see:
            assert f"](#{heading_anchor(bench_words()[other].word)})" in page


def test_no_two_words_of_the_glossary_share_an_anchor() -> None:
    headings = re.findall(r"^#+ (.+)$", glossary_page(), re.MULTILINE)
    anchors = [heading_anchor(heading) for heading in headings]
    assert len(anchors) == len(set(anchors))
