"""Write the pages of docs/ that are derived from the program itself.

python tools/docs.py            write them
python tools/docs.py --check    change nothing; exit status 1 if a page is out of date
"""

import importlib
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import click

ROOT = Path(__file__).resolve().parent.parent


def command_line() -> click.Group:
    """The click group behind the `trysquare` command."""
    module = importlib.import_module("trysquare.cli.main")
    groups = [value for value in vars(module).values() if isinstance(value, click.Group)]
    if len(groups) != 1:
        message = f"trysquare.cli.main holds {len(groups)} click groups; its commands' page needs exactly one"
        raise SystemExit(message)
    return groups[0]


def helps(
    command: click.Command, name: str, parent: click.Context | None = None
) -> Iterator[tuple[str, str]]:
    """Each command's full name with its help text, the group first, sub-commands in the group's own order."""
    # A fixed width: the page must not depend on the terminal of whoever wrote it.
    context = click.Context(command, info_name=name, parent=parent, terminal_width=96, max_content_width=96)
    yield context.command_path, command.get_help(context)
    if isinstance(command, click.Group):
        for each in command.list_commands(context):
            child = command.get_command(context, each)
            if child is not None and not child.hidden:
                yield from helps(child, each, context)


def commands_page() -> str:
    """The help texts of all commands, as the program prints them."""
    parts = ["# Commands\n", "What `--help` prints, for reading in one go. Written by `make docs`.\n"]
    for name, text in helps(command_line(), "trysquare"):
        lines = "\n".join(line.rstrip() for line in text.splitlines())
        parts.append(f"## {name}\n\n```text\n{lines}\n```\n")
    return "\n".join(parts)


# Page and its writer. A new derived page is one line here.
PAGES: dict[str, Callable[[], str]] = {
    "docs/commands.md": commands_page,
}


def main(arguments: list[str]) -> int:
    """Write or check every page."""
    stale = []
    for name, write in PAGES.items():
        path, text = ROOT / name, write()
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
    sys.exit(main(sys.argv[1:]))
