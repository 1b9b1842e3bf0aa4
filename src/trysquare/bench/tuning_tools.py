"""What the bench knows of the tuning commands: their questions as forms, and how one is asked.

The forms are made of the commands themselves (`cli.tune_forms`), so that page and command line never differ.
"""

from __future__ import annotations

import asyncio
import contextlib
import re
import tempfile
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import msgspec

from trysquare.bench.typed_number import NOT_A_NUMBER, typed_number

NUMBER, WORDS, CHOICE, TRUTH, FILE = "number", "words", "choice", "truth", "file"
LONGEST_SECONDS = 90.0
MOST_ANSWER_BYTES = 4_000_000
MOST_LETTERS = 400
MOST_ROWS = 40
TOOL_TITLES = {
    "belt": "Belts", "resonance": "Resonance", "skew": "Skew and scale", "surface": "Bed surface",
    "drive": "Drives", "heat": "Heat", "wiring": "Wiring and first power", "homing": "Homing",
    "maintenance": "Maintenance",
}  # fmt: skip
"""What the pages call each tool."""
NARROW_OPTION = "--plot-narrow"
"""Of the commands that draw: where the drawing for a phone goes. Not told in their help."""
_NAME = re.compile(r"[^\w. -]+")


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """One option of a command as a field. `option`: as it is typed, "" for files that stand by themselves.

    `kind`: number, words, choice, truth or file; `unit`: what stands behind the number; `several`: it may be
    given more than once, one in each line; `main`: shown at once, the others are unfolded.
    """

    option: str
    label: str
    kind: str
    unit: str = ""
    default: str = ""
    choices: tuple[str, ...] = ()
    several: bool = False
    main: bool = False

    @property
    def name(self) -> str:
        """Its name in a form."""
        return self.option.lstrip("-") or "files"


@dataclass(frozen=True, slots=True, kw_only=True)
class Made:
    """A file that a command makes, to be taken home: its name, what it is, and what it is asked with."""

    name: str
    says: str
    arguments: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Form:
    """A command's questions. `sort`: what the file that stands by itself is, "sound", "table" or "" without
    one; `draws`: whether the command draws what was measured."""

    what: str
    title: str
    learns: str
    sort: str
    draws: bool
    inputs: tuple[tuple[str, str], ...]
    questions: tuple[Question, ...]
    makes: tuple[Made, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Tools:
    """The way to the commands. `forms`: made when they are first asked for; `command`: the whole command line
    of `trysquare tune` with these arguments; `machine`: the arguments that name the machine."""

    forms: Callable[[], Sequence[Form]]
    command: Callable[[Sequence[str]], Sequence[str]]
    machine: tuple[str, ...] = ()


class Sent(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """A file that was sent before, by its content's hash, with the name it had."""

    sha256: str
    name: str = ""


class Asked(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """A form as it is posted: texts by the fields' names, files by the fields' names."""

    fields: dict[str, str] = {}
    files: dict[str, list[Sent]] = {}


class NotSoError(Exception):
    """Something in a form that its command does not take; the message says what."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """What a command said: `facts` of its report, else `problems` as facts, else `says`, its own words.

    `drawing`, `narrow`: what it drew, as SVG, on a wide sheet and on one as narrow as a phone."""

    facts: Mapping[str, Any] | None = None
    problems: tuple[Mapping[str, Any], ...] = ()
    says: str = ""
    drawing: bytes | None = None
    narrow: bytes | None = None


def arguments(form: Form, asked: Asked, places: Mapping[str, Sequence[str]]) -> list[str]:
    """A form as arguments of its command; `places`: where the files of each field lie.

    Raises NotSoError for a field that the form has not, or one with too much in it.
    """
    known = {question.name: question for question in form.questions}
    for name in (*asked.fields, *asked.files):
        if name not in known or (known[name].kind == FILE) != (name in asked.files):
            raise NotSoError(f"'{form.title}' asks nothing called '{name[:40]}'.")
    options: list[str] = []
    for name, text in asked.fields.items():
        options += _options(known[name], text)
    alone: list[str] = []
    for name, files in places.items():
        if known[name].option:
            options += [part for file in files for part in (known[name].option, file)]
        else:
            alone += files
    return [form.what, *options, "--", *alone]


def _options(question: Question, text: str) -> list[str]:
    rows = [row.strip() for row in text.splitlines()] if question.several else [text.strip()]
    rows = [row for row in rows if row]
    if len(rows) > MOST_ROWS or any(len(row) > MOST_LETTERS or "\0" in row for row in rows):
        raise NotSoError(f"{question.label}: too much was written there.")
    if question.kind == TRUTH:
        return [question.option] if rows and rows[0] == "yes" else []
    if question.kind == NUMBER:
        rows = [_number(question, row) for row in rows]
    # Joined with "=": a value that begins with a dash is then no option.
    return [f"{question.option}={row}" for row in rows]


def _number(question: Question, text: str) -> str:
    """A number as the command takes it, its unit taken off or changed into the field's; what is none goes to
    the command as it is, whose own words say so. Raises NotSoError for a unit that does not fit."""
    typed = typed_number(text, question.unit)
    if typed.value is not None:
        return f"{typed.value:.15g}"
    if typed.says == NOT_A_NUMBER:
        return text
    raise NotSoError(f"{question.label}: {typed.says}")


# The command line's own last words: the page is the help here.
_SEE = re.compile(r"\s*(?:For example: trysquare .*)?See: trysquare [\w ]+ --help\s*$")
_MISSING = re.compile(r"^[A-Z]+ is missing\b.*$")


def file_name(said: str, number: int, suffix: str) -> str:
    """A name for a file on the disk that reads as the one it had, and cannot be taken for anything else."""
    stem = _NAME.sub("_", said).strip(" ._-")[:80]
    if not stem:
        return f"file-{number}{suffix}"
    return stem if stem.casefold().endswith(suffix) else f"{stem}{suffix}"


class Asking:
    """Commands asked one after the other, each in a child of its own that is ended when it takes too long."""

    def __init__(self, tools: Tools) -> None:
        self.tools = tools
        self._one_at_a_time = asyncio.Lock()
        self._forms: tuple[Form, ...] | None = None

    @property
    def forms(self) -> tuple[Form, ...]:
        """All forms, in the commands' order."""
        if self._forms is None:
            self._forms = tuple(self.tools.forms())
        return self._forms

    def form(self, what: str) -> Form | None:
        """The form of a command."""
        return next((form for form in self.forms if form.what == what), None)

    async def ask(self, form: Form, asked: Asked, files: Mapping[str, Sequence[tuple[str, Path]]]) -> Answer:
        """Asks the command. `files`: name and place by field. Raises NotSoError as `arguments` does."""
        async with self._one_at_a_time:
            with tempfile.TemporaryDirectory(prefix="trysquare-") as home:
                here = Path(home)
                places = {
                    field: [_lay(here, name, place, number) for number, (name, place) in enumerate(rows, 1)]
                    for field, rows in files.items()
                }
                said = arguments(form, asked, places)
                plot, narrow = here / "plot.svg", here / "plot-narrow.svg"
                draws = ["--plot", plot.name, NARROW_OPTION, narrow.name] if form.draws else []
                extra = [*self.tools.machine, "--json", *draws]
                line = self.tools.command([said[0], *extra, *said[1:]])
                status, out, talk = await _run(line, here)
                drawings = [each.read_bytes() if each.is_file() else None for each in (plot, narrow)]
        return _answer(status, out, talk, *drawings)

    async def make(self, form: Form, made: Made) -> bytes | None:
        """A file that the command makes; None when it did not."""
        async with self._one_at_a_time:
            with tempfile.TemporaryDirectory(prefix="trysquare-") as home:
                await _run(self.tools.command([form.what, *made.arguments]), Path(home))
                place = Path(home) / made.name
                return place.read_bytes() if place.is_file() else None


def _lay(home: Path, name: str, place: Path, number: int) -> str:
    laid = home / file_name(name, number, place.suffix)
    if laid.exists():
        laid = home / f"{number}-{laid.name}"
    try:
        laid.symlink_to(place.resolve())
    except OSError:
        laid.write_bytes(place.read_bytes())
    return laid.name


async def _run(line: Sequence[str], here: Path) -> tuple[int, bytes, bytes]:
    child = await asyncio.create_subprocess_exec(
        *line,
        cwd=here,
        stdin=asyncio.subprocess.DEVNULL,
        stdout=asyncio.subprocess.PIPE,
        stderr=asyncio.subprocess.PIPE,
    )
    try:
        out, talk = await asyncio.wait_for(child.communicate(), LONGEST_SECONDS)
    except TimeoutError:
        return -1, b"", f"It took longer than {LONGEST_SECONDS:.0f} s and was ended.".encode()
    finally:
        if child.returncode is None:
            with contextlib.suppress(ProcessLookupError):
                child.kill()
            await child.wait()
    return child.returncode or 0, out[:MOST_ANSWER_BYTES], talk


def _answer(status: int, out: bytes, talk: bytes, drawing: bytes | None, narrow: bytes | None) -> Answer:
    facts: Any = None
    with contextlib.suppress(ValueError):
        facts = msgspec.json.decode(out)
    if isinstance(facts, dict) and isinstance(facts.get("parts"), list) and status in (0, 1):
        return Answer(facts=facts, drawing=drawing, narrow=narrow)
    if isinstance(facts, dict) and isinstance(facts.get("problems"), list):
        return Answer(problems=tuple(one for one in facts["problems"] if isinstance(one, dict)))
    words = [row for row in talk.decode("utf-8", "replace").splitlines() if row.strip()]
    plain = [row for row in words if not row.startswith(("Usage:", "Try "))]
    said = _SEE.sub("", " ".join(plain).removeprefix("Error: "))
    said = _MISSING.sub("A file is missing: choose it first.", said)
    return Answer(says=said or "It ended without an answer.")
