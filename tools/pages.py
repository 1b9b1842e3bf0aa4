"""The code blocks of our Markdown pages: run every shell block, and keep the output shown below it current.

    python tools/pages.py [--check] [PAGE …]

A ```text block straight below a ```sh block holds what those commands print, 80 columns wide; it is
written anew, but not with `--check`. Remarks for this tool stand in HTML comments straight above a block:

    <!-- lines: 4-6, 10-14 -->     only these lines of the output are shown, a … between and after them
    <!-- not run: the reason -->   the block is for reading, or does not end by itself
    <!-- into: folder/file.toml -->   the block is added to this file, so that the commands below it see it

The commands of a page run one after the other in one folder: a copy of demo/ and nothing else.
"""

import os
import re
import shutil
import stat
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
DOCS = ROOT / "docs"
COLUMNS = 80
LONGEST_SECONDS = 600  # only so that a command which never ends is noticed
FENCE = re.compile(r"^( *)(`{3,})([a-z]*)(?: [^`]*)?$")
REMARK = re.compile(r"^<!-- (lines|not run|into): (.+?) -->$")
CUT = "…"
# Written from the program by `make docs`; their examples are lines to learn from, with folders of the reader.
DERIVED = frozenset({"cli.md", "findings.md", "glossary.md", "log.md"})


@dataclass(frozen=True)
class Block:
    """One fenced block. first, last: its lines between the fences, counted from 0, last not included."""

    language: str
    first: int
    last: int
    text: str
    remarks: dict[str, str]


@dataclass(frozen=True)
class Ran:
    """What a shell block did. status 0: every command ended well, or with findings (exit status 1)."""

    block: Block
    status: int
    printed: str
    said: str


def pages() -> list[Path]:
    """The pages whose shell blocks run."""
    return [path for path in sorted(DOCS.rglob("*.md")) if path.name not in DERIVED]


def blocks(text: str) -> list[Block]:
    """The fenced blocks of a page, in their order."""
    found: list[Block] = []
    lines = text.splitlines()
    remarks: dict[str, str] = {}
    at = 0
    while at < len(lines):
        fence = FENCE.match(lines[at])
        remark = REMARK.match(lines[at])
        if remark:
            remarks[remark[1]] = remark[2]
        elif fence:
            last = next(
                (i for i in range(at + 1, len(lines)) if lines[i].strip() == fence[2]),
                len(lines),
            )
            inside = [line.removeprefix(fence[1]) for line in lines[at + 1 : last]]
            found.append(Block(fence[3], at + 1, last, "\n".join(inside) + "\n", remarks))
            remarks, at = {}, last
        elif lines[at].strip():
            remarks = {}
        at += 1
    return found


def shown_below(text: str, block: Block, every: list[Block]) -> Block | None:
    """The block that shows this one's output: the next one, with nothing but remarks between."""
    following = next((each for each in every if each.first > block.last), None)
    if following is None or following.language != "text":
        return None
    between = text.splitlines()[block.last + 1 : following.first - 1]
    return None if any(line.strip() and not REMARK.match(line) for line in between) else following


def cut(printed: str, lines: str | None) -> str:
    """Only these lines of an output ('1-6, 10-14', counted from 1), a … for what is left out."""
    whole = printed.rstrip().splitlines()
    if lines is None:
        return "\n".join(whole) + "\n"
    kept: list[str] = []
    done = int(lines.split("-")[0].split(",")[0]) - 1  # what stands before is only a heading
    for span in lines.split(","):
        first, _, last = span.strip().partition("-")
        if int(first) - 1 > done:
            kept.append(CUT)
        done = min(int(last or first), len(whole))
        kept += whole[int(first) - 1 : done]
    if done < len(whole):
        kept.append(CUT)
    while kept and not kept[-1].strip():
        kept.pop()
    return "\n".join(kept) + "\n"


def run_page(text: str, folder: Path) -> Iterator[Ran]:
    """Run a page's shell blocks one after the other in a folder that `copied` has laid out."""
    for block in blocks(text):
        if "into" in block.remarks:
            with (folder / block.remarks["into"]).open("a", encoding="utf-8") as file:
                file.write(block.text)
        if block.language == "sh" and "not run" not in block.remarks:
            yield run_block(block, folder)


def run_block(block: Block, folder: Path) -> Ran:
    """Run one block as it stands; the first command that fails ends it."""
    finished = subprocess.run(
        ["/bin/sh", "-eu", "-c", block.text],
        cwd=folder,
        env={
            "PATH": f"{folder / '.commands'}{os.pathsep}{os.environ['PATH']}",
            "PYTHONPATH": str(ROOT / "src"),
            "HOME": str(folder),
            "LANG": "C.UTF-8",
            "COLUMNS": str(COLUMNS),
            "OPENBLAS_NUM_THREADS": "1",
        },
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        timeout=LONGEST_SECONDS,
        check=False,
    )
    return Ran(block, finished.returncode, finished.stdout, finished.stderr)


def copied(folder: Path) -> Path:
    """Lay out a folder to run a page in: the demo machines, and our program under its name."""
    shutil.copytree(ROOT / "demo", folder / "demo", ignore=shutil.ignore_patterns(".trysquare-cache", "log*"))
    command = folder / ".commands" / "trysquare"
    command.parent.mkdir()
    # Findings (exit status 1) are an answer; only what lies above is a fault of the page.
    program = f'"{sys.executable}" -m trysquare.cli.main "$@"'
    command.write_text(
        f"#!/bin/sh\nstatus=0\n{program} || status=$?\n[ $status -ne 1 ] || status=0\nexit $status\n",
        encoding="utf-8",
    )
    command.chmod(command.stat().st_mode | stat.S_IXUSR)
    return folder


def renewed(text: str, ran: list[Ran]) -> str:
    """The page with the outputs as they were printed now."""
    lines = text.splitlines()
    every = blocks(text)
    for each in reversed(ran):
        below = shown_below(text, each.block, every)
        if below is not None:
            lines[below.first : below.last] = cut(each.printed, below.remarks.get("lines")).splitlines()
    return "\n".join(lines) + "\n"


def main(arguments: list[str]) -> int:
    """Run the pages; write what they show, or with --check say which of them are old."""
    check = "--check" in arguments
    chosen = [Path(each).resolve() for each in arguments if each != "--check"] or pages()
    faults = 0
    for page in chosen:
        text = page.read_text(encoding="utf-8")
        if not any(each.language == "sh" for each in blocks(text)):
            continue
        with tempfile.TemporaryDirectory() as made:
            ran = list(run_page(text, copied(Path(made))))
        for each in ran:
            if each.status:
                faults += 1
                print(f"{page.relative_to(ROOT)}:{each.block.first}: status {each.status}\n{each.said}")
        fresh = renewed(text, [each for each in ran if not each.status])
        if fresh == text:
            continue
        if check:
            faults += 1
            print(f"{page.relative_to(ROOT)} shows an old output: make docs writes it.")
        else:
            page.write_text(fresh, encoding="utf-8")
            print(f"{page.relative_to(ROOT)}: outputs written")
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
