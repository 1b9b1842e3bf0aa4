"""Writes the pages of docs/ that are derived from the program itself.

python -m trysquare.cli.docs            writes each page of PAGES below this folder
python -m trysquare.cli.docs --check    changes nothing; exit status 1 if a page is out of date
"""

from __future__ import annotations

import re
import sys
from collections.abc import Callable, Iterator, Mapping, Sequence
from itertools import groupby
from pathlib import Path

import click

from trysquare.bench.words import BenchWord, bench_words
from trysquare.cli.log_page import log_page
from trysquare.cli.main import trysquare
from trysquare.cli.why import WEIGHT_MEANS
from trysquare.ground.findings import Weight, finding_kinds
from trysquare.sequence.follow_on import FOLLOWS

_HELP_WIDTH = 78  # fixed: the page must not depend on the terminal of whoever wrote it
_FINDINGS_HEAD = (
    "Every code that `trysquare check` can print. `trysquare why CODE` says the same in the terminal. "
    "A code keeps its meaning for ever. Written by `make docs`.\n"
)
_WORDS_HEAD = (
    "The words of the trade and of this tool, as the bench explains them on a tap. Written by `make docs`.\n"
)
_HEADINGS = {Weight.STOP: "Stops the build", Weight.DOUBT: "To be looked at", Weight.NOTE: "Good to know"}


def helps(
    command: click.Command, name: str, parent: click.Context | None = None
) -> Iterator[tuple[str, str]]:
    """Each command's full name with its help text, the group first, sub-commands in the group's own order."""
    context = click.Context(
        command, info_name=name, parent=parent, terminal_width=_HELP_WIDTH, help_option_names=["-h", "--help"]
    )
    yield context.command_path, command.get_help(context)
    if isinstance(command, click.Group):
        for each in command.list_commands(context):
            child = command.get_command(context, each)
            if child is not None and not child.hidden:
                yield from helps(child, each, context)


def cli_page() -> str:
    """The help texts of all commands, as the program prints them."""
    parts = ["# Commands\n", "What `--help` prints, for reading in one go. Written by `make docs`.\n"]
    for name, text in helps(trysquare, "trysquare"):
        lines = "\n".join(line.rstrip() for line in text.splitlines())
        parts.append(f"## {name}\n\n```text\n{lines}\n```\n")
    return "\n".join(parts)


_FOLLOW_HEAD = """\
## What follows from what

`check` tells a cause before what follows from it. Where two findings name one part or one joint, the second
stands behind the first, with the line *follows from*, if its code stands behind the first one's below. Settle
the cause and check again: what followed from it is gone then, or stands for itself. A part that hangs free
only because it hangs on a loose one of the same step follows likewise. In `--json` the cause stands under
`follows_from`. Problems of reading have the same order: what names something of a unit or part that cannot be
read stands behind that problem, and says which is to be mended first.
"""


def findings_page() -> str:
    """All findings by weight, each with what it means, what follows, what to do and on what it rests."""
    parts = [
        "# Findings\n",
        _FINDINGS_HEAD,
    ]
    for weight, heading in _HEADINGS.items():
        kinds = [kind for kind in finding_kinds().values() if kind.weight is weight]
        if not kinds:
            continue
        parts.append(f"## {heading}\n\nWeight `{weight}`: {WEIGHT_MEANS[weight]}.\n")
        parts += [
            f"### {kind.code}\n\n{kind.meaning}\n\n"
            f"- **What follows:** {kind.consequence}\n"
            f"- **What to do:** {kind.remedy}\n"
            f"- **Rests on:** {kind.basis}\n"
            for kind in sorted(kinds, key=lambda kind: kind.code)
        ]
    parts.append(_FOLLOW_HEAD)
    for code, some in FOLLOWS.items():
        parts.append(f"- `{code}`: {', '.join(f'`{one}`' for one in sorted(some))}")
    parts.append("")
    return "\n".join(parts)


def glossary_page() -> str:
    """The bench's words in the order of the alphabet: what each is, why it matters, which others help."""
    parts = ["# Words\n", _WORDS_HEAD]
    for letter, words in groupby(bench_words().values(), key=lambda word: word.word[0].upper()):
        parts.append(f"## {letter}\n")
        parts += [_word(word) for word in words]
    return "\n".join(parts)


def _word(word: BenchWord) -> str:
    text = f"### {word.word}\n\n{word.says}{f' {word.why}' if word.why else ''}\n"
    if word.see:
        others = [bench_words()[term].word for term in word.see]
        text += f"\nSee also {', '.join(f'[{other}](#{heading_anchor(other)})' for other in others)}.\n"
    return text


def heading_anchor(heading: str) -> str:
    """What stands behind # in a link to a heading, as viewers of Markdown make it."""
    return re.sub(r"[^\w\- ]", "", heading.casefold()).replace(" ", "-")


PAGES: Mapping[str, Callable[[], str]] = {
    "docs/cli.md": cli_page,
    "docs/findings.md": findings_page,
    "docs/glossary.md": glossary_page,
    "docs/log.md": log_page,
}
"""Page and its writer. A new derived page is one row here."""


def main(arguments: Sequence[str], root: Path) -> int:
    """Writes or checks every page below `root`."""
    stale: list[str] = []
    for name, write in PAGES.items():
        path, text = root / name, write()
        if path.is_file() and path.read_text(encoding="utf-8") == text:
            continue
        stale.append(name)
        if "--check" not in arguments:
            path.parent.mkdir(exist_ok=True)
            path.write_text(text, encoding="utf-8")
            print(f"wrote {name}")
    if "--check" in arguments and stale:
        print(f"out of date: {', '.join(stale)}. Run: make docs", file=sys.stderr)
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:], Path.cwd()))
