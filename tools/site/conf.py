"""The pages of docs/ as a static site: make site. Nothing in it is fetched from anywhere."""

import importlib.metadata
import re
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from sphinx.application import Sphinx

ROOT = Path(__file__).resolve().parents[2]

project = "Trysquare"
author = "The Trysquare authors"
copyright = author  # noqa: A001  # the name that Sphinx looks for
_VERSION = re.search(r'__version__ = "(.+?)"', (ROOT / "src/trysquare/__init__.py").read_text("utf-8"))
release = _VERSION[1] if _VERSION else ""

extensions = ["myst_parser"]
source_suffix = {".md": "markdown"}
root_doc = "index"
nitpicky = True
smartquotes_action = "qe"  # no dash is made of the two hyphens of an option
myst_heading_anchors = 4
# Code is set as it stands: no word of TOML or of a shell is wrong because a highlighter does not know it.
suppress_warnings = ["misc.highlighting_failure"]
highlight_language = "text"
pygments_style = "bw"
pygments_dark_style = "bw"

html_theme = "furo"
html_title = "Trysquare"
html_theme_options = {
    "light_css_variables": {
        "color-brand-primary": "#8a4b12",
        "color-brand-content": "#8a4b12",
        "color-brand-visited": "#6b4a2e",
        "color-code-background": "#f6f3ec",
        "color-sidebar-background": "#f6f3ec",
    },
    "dark_css_variables": {
        "color-brand-primary": "#e0a868",
        "color-brand-content": "#e0a868",
        "color-brand-visited": "#c9a582",
    },
}
html_static_path = ["static"]
templates_path = ["templates"]
html_css_files = ["trysquare.css"]
html_show_sphinx = False
html_copy_source = False
html_show_sourcelink = False
exclude_patterns = ["pictures"]

# The pages stay plain Markdown that reads well in any viewer: what stands in the margin is said here. A page
# of docs/ that nobody placed stands with those to look things up in.
FIRST = {
    "index",
    "quick_start",
    "tutorial",
    "format",
    "cli",
    "findings",
    "glossary",
    "log",
    "tune",
    "giving_out",
    "architecture",
}
REST = sorted(path.stem for path in (ROOT / "docs").glob("*.md") if path.stem not in FIRST)
NAVIGATION = {
    "Begin": ["quick_start", "tutorial"],
    "Do one thing": [
        "howto/describe_my_machine",
        "howto/bring_cad",
        "howto/true_a_frame_with_ruler_and_square",
        "howto/tune_a_belt_by_phone",
        "howto/teach_a_class",
        "howto/put_it_on_this_computer",
        "giving_out",
    ],
    "Look it up": ["glossary", "format", "cli", "findings", "log", "tune", *REST],
    "Understand it": ["how/slots", "how/paths", "how/orders", "how/truing", "architecture"],
}


def with_navigation(_app: "Sphinx", name: str, source: list[str]) -> None:
    """Add to a page the list of the pages below it."""
    if name == "tune":
        source[0] += "\n```{toctree}\n:hidden:\n:glob:\n\ntuning/*\n```\n"
    if name != "index":
        return
    for caption, listed in NAVIGATION.items():
        there = [each for each in listed if (ROOT / "docs" / f"{each}.md").is_file()]
        source[0] += "\n".join(
            ["", "```{toctree}", ":hidden:", f":caption: {caption}", "", *there, "```", ""]
        )


# Whose scripts and styles a built site holds copies of. Their licences ask for no line on a page, but that
# the notice goes along with each copy.
COPIED_FROM = ("furo", "sphinx", "sphinx-basic-ng")


def with_licences(app: "Sphinx", failed: Exception | None) -> None:
    """Put the licences of what the site holds copies of beside the copies."""
    if failed:
        return
    parts = []
    for name in COPIED_FROM:
        package = importlib.metadata.distribution(name)
        texts = [
            Path(str(file.locate())).read_text("utf-8")
            for file in package.files or []
            if file.name.upper().startswith("LICEN") and ".dist-info" in file.parts[0]
        ]
        parts.append(f"{name} {package.version}\n{'=' * 40}\n" + "\n".join(texts))
    (Path(app.outdir) / "_static" / "licences.txt").write_text("\n\n".join(parts), encoding="utf-8")


def setup(app: "Sphinx") -> dict[str, bool]:
    """What Sphinx calls when it begins."""
    app.connect("source-read", with_navigation)
    app.connect("build-finished", with_licences)
    return {"parallel_read_safe": True, "parallel_write_safe": True}
