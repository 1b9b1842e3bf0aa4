"""The pages of docs/: shell blocks run, outputs shown are today's, all TOML can be read, no link is lost."""

import importlib
import re
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT / "tools"))
pages = importlib.import_module("pages")
layers = (ROOT / "tests" / "test_layers.py").read_text("utf-8")

RUN = [path for path in pages.pages() if "```sh" in path.read_text("utf-8")]
READ = [
    *sorted((ROOT / "docs").rglob("*.md")),
    *sorted(ROOT.glob("*.md")),
    ROOT / "demo" / "mistakes" / "README.md",
]
LINK = re.compile(r"(?<!\\)\]\(([^()\s]+)\)")


def name(path: Path) -> str:
    return path.relative_to(ROOT).as_posix()


@pytest.mark.slow
@pytest.mark.parametrize("page", RUN, ids=name)
def test_every_command_of_a_page_runs_and_prints_what_the_page_shows(page: Path, tmp_path: Path) -> None:
    text = page.read_text("utf-8")
    ran = list(pages.run_page(text, pages.copied(tmp_path)))
    assert not [(each.block.text, each.said) for each in ran if each.status]
    assert pages.renewed(text, ran) == text, "the page shows an old output; make docs writes it"


@pytest.mark.parametrize("page", READ, ids=name)
def test_every_block_of_toml_in_a_page_can_be_read(page: Path) -> None:
    for block in pages.blocks(page.read_text("utf-8")):
        if block.language == "toml":
            tomllib.loads(block.text)


@pytest.mark.parametrize("page", READ, ids=name)
def test_every_relative_link_of_a_page_leads_to_a_file_and_its_heading(page: Path) -> None:
    lost = [link for link in links(page.read_text("utf-8")) if not leads_somewhere(page, link)]
    assert not lost


def links(text: str) -> list[str]:
    """The relative links and pictures of a page; what stands in code is no link."""
    prose = re.sub(r"```.*?```|`[^`\n]*`", "", text, flags=re.DOTALL)
    return [link for link in LINK.findall(prose) if not re.match(r"[a-z]+:", link)]


def leads_somewhere(page: Path, link: str) -> bool:
    place, _, heading = link.partition("#")
    target = (page.parent / place).resolve() if place else page
    if not target.exists():
        return False
    return not heading or heading in headings(target.read_text("utf-8"))


def headings(text: str) -> set[str]:
    """The anchors of a page, as a viewer of Markdown makes them from its headings."""
    titles = re.findall(r"^#+ +(.+?) *$", re.sub(r"```.*?```", "", text, flags=re.DOTALL), re.MULTILINE)
    return {re.sub(r"[^\w\- ]", "", each.lower()).replace(" ", "-") for each in titles}


def test_a_link_to_a_heading_that_is_not_there_is_found() -> None:
    page = ROOT / "docs" / "tune.md"
    assert leads_somewhere(page, "tutorial.md#8-it-moves-tune")
    assert not leads_somewhere(page, "tutorial.md#nowhere")
    assert not leads_somewhere(page, "nowhere.md")


@pytest.mark.parametrize("page", sorted((ROOT / "docs" / "tuning").glob("*.md")), ids=name)
def test_every_page_on_a_tool_of_tuning_shows_what_it_prints(page: Path) -> None:
    text = page.read_text("utf-8")
    every = pages.blocks(text)
    shown = [each for each in every if each.language == "sh" and pages.shown_below(text, each, every)]
    assert shown
    assert all(f"trysquare tune {page.stem} " in each.text for each in shown)


def test_every_block_that_is_not_run_says_why() -> None:
    text = "<!-- not run: it stays up -->\n```sh\nfalse\n```\n\n```sh\nfalse\n```\n"
    assert [each.remarks for each in pages.blocks(text)] == [{"not run": "it stays up"}, {}]


def test_a_command_that_fails_is_told_with_its_status(tmp_path: Path) -> None:
    text = "```sh\ntrysquare why no-such-finding\necho never\n```\n"
    ran = list(pages.run_page(text, pages.copied(tmp_path)))
    assert [(each.status, each.printed) for each in ran] == [(2, "")]


def test_an_output_is_cut_to_the_lines_that_the_page_asks_for() -> None:
    assert pages.cut("a\nb\nc\nd\ne\n", "2, 4-5") == "b\n…\nd\ne\n"
    assert pages.cut("a\nb\nc\n", "1-2") == "a\nb\n…\n"
    assert pages.cut("a\n\n", None) == "a\n"


def test_the_page_on_the_rooms_has_them_all_in_their_order() -> None:
    row = re.search(r"^ROOMS = \((.*?)^\)", layers, re.DOTALL | re.MULTILINE)
    assert row
    page = (ROOT / "docs" / "architecture.md").read_text("utf-8")
    told = re.findall(r"^\| `(\w+)` \|.*\| (yes|) ?\|$", page, re.MULTILINE)
    rooms = re.findall(r'"(\w+)"', row[1])
    assert [room for room, _ in told] == rooms
    core = rooms[: rooms.index("tuning") + 1]
    assert [room for room, is_core in told if is_core] == core


@pytest.mark.slow
@pytest.mark.parametrize("tool", ["picture.py", "drawings.py"])
def test_the_pictures_of_the_pages_are_what_the_commands_draw(tool: str) -> None:
    told = subprocess.run(
        [sys.executable, f"tools/{tool}", "--check"], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert told.returncode == 0, told.stdout + told.stderr


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The pages as a site; every warning of its making is an error."""
    pytest.importorskip("sphinx", reason="the group docs is not installed")
    made = tmp_path_factory.mktemp("site")
    building = [sys.executable, "-m", "sphinx", "-b", "html", "-W", "--keep-going", "-q", "-c", "tools/site"]
    told = subprocess.run(
        [*building, "-d", str(made / "kept"), "docs", str(made / "pages")],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert told.returncode == 0, told.stderr
    return made / "pages"


@pytest.mark.slow
def test_the_site_is_built_without_a_warning_and_fetches_nothing(site: Path) -> None:
    fetched = re.compile(r"""<(?:script|img|iframe|link|source)\b[^>]*?(?:src|href)=["'](?:https?:)?//""")
    written = sorted(site.rglob("*.html"))
    assert len(written) > 20
    assert not [path.name for path in written if fetched.search(path.read_text("utf-8"))]
    asked = re.compile(r"url\(.?(https?:)?//|@import")
    assert not [path.name for path in site.rglob("*.css") if asked.search(path.read_text("utf-8"))]


@pytest.mark.slow
def test_the_site_names_no_generator_on_its_pages_and_brings_the_licences_of_what_it_copies(
    site: Path,
) -> None:
    for path in site.rglob("*.html"):
        text = path.read_text("utf-8")
        told = re.sub(r"<script.*?</script>", "", text)
        assert not re.search(r">[^<>]*(?:sphinx|furo)|<!--[^>]*generated", told, re.IGNORECASE), path
        assert "_static/licences.txt" in text, path
    licences = (site / "_static" / "licences.txt").read_text("utf-8")
    assert licences.count("Copyright") >= 3


@pytest.mark.slow
def test_every_link_inside_the_site_leads_to_a_page_and_its_heading(site: Path) -> None:
    written = {path.resolve(): path.read_text("utf-8") for path in site.rglob("*.html")}
    anchors = {path: set(re.findall(r'\bid="([^"]+)"', text)) for path, text in written.items()}
    lost = []
    for path, text in written.items():
        for link in re.findall(r'<a\b[^>]*?\bhref="([^":]+)"', text):
            place, _, heading = link.partition("#")
            target = (path.parent / place).resolve() if place else path
            if not target.exists() or (heading and target in anchors and heading not in anchors[target]):
                lost.append(f"{path.name}: {link}")
    assert not lost


@pytest.mark.slow
def test_every_command_of_the_readme_runs_but_those_that_serve_or_set_up(tmp_path: Path) -> None:
    """`make demo` and `make test` are run by whoever runs this, and `bench` serves until it is stopped."""
    folder = pages.copied(tmp_path)
    lines = [
        line.replace(".venv/bin/", "")
        for block in pages.blocks((ROOT / "README.md").read_text("utf-8"))
        if block.language == "sh"
        for line in block.text.splitlines()
        if line.startswith(".venv/bin/trysquare ") and " bench " not in line
    ]
    assert len(lines) > 15
    ran = [pages.run_block(pages.Block("sh", 0, 0, f"{line}\n", {}), folder) for line in lines]
    assert not [(each.block.text, each.said) for each in ran if each.status]
