"""Chapter marks and a skeleton of subtitles, as WebVTT, FFMETADATA and plain lines.

A title comes from a folder and may hold anything: markup, arrows, line ends, text from right to left. What
would break a file is taken out or escaped here, and nowhere else.
Source: W3C, WebVTT: The Web Video Text Tracks Format, Candidate Recommendation 2019, sections 4.1 to 4.4
(file, cue timings, chapter titles). FFMETADATA: FFmpeg Formats Documentation, section 5, Metadata.
"""

from __future__ import annotations

import csv
import io
import itertools
import math
import re
import textwrap
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from trysquare.ground.errors import ReadingError, ReadingErrors, Where, nearest
from trysquare.machine.values import Action, Machine
from trysquare.publish.durations import StepDuration
from trysquare.publish.unmarked_steps import LEAST_MARK_SECONDS, unmarked

LONGEST_FILM_SECONDS = 1000 * 3600.0
LINE_CHARS, LINES = 42, 2  # of a subtitle; common practice, no source
CHARS_PER_SECOND, LEAST_SHOWN_SECONDS, MOST_SHOWN_SECONDS = 15.0, 1.5, 7.0  # the same
_BIDI_CONTROLS = re.compile("[\u202a-\u202e\u2066-\u2069]")  # they would turn what follows the title


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """A chapter: from `begins_seconds` to `ends_seconds` of the film. `step` is "" for the opening."""

    step: str
    title: str
    begins_seconds: float
    ends_seconds: float

    def __post_init__(self) -> None:
        if not 0 <= self.begins_seconds < self.ends_seconds < math.inf:
            raise ReadingError(
                where=Where(file="chapter marks", key=self.step),
                read=f"{self.begins_seconds} … {self.ends_seconds}",
                expected="a beginning from 0 on and an end after it, in seconds",
                remedy="Correct the times of this step.",
            )


def planned_marks(planned: Iterable[StepDuration]) -> tuple[Mark, ...]:
    """Marks one after the other, as long as the steps are planned to be in a film: waits are cut out."""
    marks: list[Mark] = []
    at = 0.0
    for step in planned:
        # Rounded here, so that an end and the next beginning are the same in every format.
        end = round(max(at + step.film_seconds, at + LEAST_MARK_SECONDS), 3)
        marks.append(Mark(step=step.step, title=step.title, begins_seconds=at, ends_seconds=end))
        at = end
    return tuple(marks)


def clocked_marks(
    text: str, planned: Sequence[StepDuration], *, opening: str, file: str, ends_seconds: float | None = None
) -> tuple[Mark, ...]:
    """Marks from a table `step,seconds`: where in the film each step begins.

    Steps that the film does not show are left out of the table; the film may show them in another order.
    Times may also be written h:mm:ss or mm:ss. The last mark lasts to `ends_seconds`, else as long as its
    step is planned; a film that begins before its first mark gets an `opening`, since players expect a mark
    at 0. Raises ReadingErrors with all problems.
    """
    problems: list[ReadingError] = []
    found = _clock_rows(text, {step.step for step in planned}, file, problems)
    return _marks_of(found, planned, opening, ends_seconds, problems)


def marks_at(
    begins: Iterable[tuple[str, float]],
    planned: Sequence[StepDuration],
    *,
    opening: str,
    ends_seconds: float | None = None,
    file: str = "the build log",
) -> tuple[Mark, ...]:
    """Marks from (step, seconds): where in the film each step begins, as a build log knows it.

    A step without a mark keeps its place in the order and its planned length: it follows the step before it,
    squeezed with its neighbours when the next mark comes too early for them. All else is as in
    `clocked_marks`; `file` is named where something is wrong. Without any, as planned.
    """
    rows = [_Row(step=step, seconds=seconds, where=Where(file=file, key=step)) for step, seconds in begins]
    if not rows:
        return planned_marks(planned)
    steps, seen = {step.step for step in planned}, set[str]()
    problems: list[ReadingError] = []
    for row in rows:
        if row.step not in steps:
            expected, remedy = "the id of a step", nearest(row.step, steps)
        elif row.step in seen:
            expected, remedy = "each step once", "Keep the mark at which its chapter begins."
        elif not 0 <= row.seconds <= LONGEST_FILM_SECONDS:  # no number fails this too
            expected, remedy = "seconds from the film's beginning", "Leave this mark out."
        else:
            seen.add(row.step)
            continue
        problems.append(
            ReadingError(
                where=row.where, read=f"{row.step}: {row.seconds:g}", expected=expected, remedy=remedy
            )
        )
    whole = [replace(row, seconds=round(row.seconds, 3)) for row in rows if row.step in seen]
    if not problems:
        between = unmarked([(row.step, row.seconds) for row in whole], planned, ends_seconds)
        whole += [
            _Row(step=step, seconds=at, where=Where(file="as planned", key=step)) for step, at in between
        ]
    return _marks_of([] if problems else whole, planned, opening, ends_seconds, problems)


def _marks_of(
    found: Iterable[_Row],
    planned: Sequence[StepDuration],
    opening: str,
    ends_seconds: float | None,
    problems: list[ReadingError],
) -> tuple[Mark, ...]:
    """Chapters from where they begin. Raises ReadingErrors: these problems, and what is wrong with times."""
    rows = sorted(found, key=lambda row: row.seconds)
    problems += [
        ReadingError(
            where=late.where,
            read=f"{late.step}: {late.seconds:g}",
            expected=f"a second at least between two marks; '{early.step}' begins at {early.seconds:g}",
            remedy="Let the later one begin later, or leave one of them out.",
        )
        for early, late in itertools.pairwise(rows)
        if late.seconds - early.seconds < LEAST_MARK_SECONDS
    ]
    if rows and ends_seconds is not None and not rows[-1].seconds < ends_seconds <= LONGEST_FILM_SECONDS:
        problems.append(
            ReadingError(
                where=Where(file="--length"),
                read=ends_seconds,
                expected=f"seconds after the last mark, {rows[-1].seconds:g}",
                remedy="Give the whole film's length in seconds.",
            )
        )
    if problems:
        raise ReadingErrors(sorted(problems, key=lambda problem: problem.where.line))
    plan = {step.step: step for step in planned}
    if ends_seconds is None:
        ends_seconds = rows[-1].seconds + max(plan[rows[-1].step].film_seconds, LEAST_MARK_SECONDS)
    begins = [row.seconds for row in rows]
    # A film that begins a moment before its first step needs no opening of its own.
    begins[0] = begins[0] if begins[0] >= LEAST_MARK_SECONDS else 0.0
    marks = [
        Mark(step=row.step, title=plan[row.step].title, begins_seconds=begin, ends_seconds=end)
        for row, begin, end in zip(rows, begins, [*begins[1:], ends_seconds], strict=True)
    ]
    if begins[0] > 0:
        marks.insert(0, Mark(step="", title=opening, begins_seconds=0.0, ends_seconds=begins[0]))
    return tuple(marks)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Row:
    """One row of a table of clock marks."""

    step: str
    seconds: float
    where: Where


def _clock_rows(text: str, steps: set[str], file: str, problems: list[ReadingError]) -> list[_Row]:
    """When each step begins. What is wrong is a problem."""

    def problem(line: int, key: str, read: object, expected: str, remedy: str) -> None:
        where = Where(file=file, line=line, key=key)
        problems.append(ReadingError(where=where, read=read, expected=expected, remedy=remedy))

    found: list[_Row] = []
    seen: set[str] = set()
    reader = csv.reader(io.StringIO(text.removeprefix("\ufeff"), newline=""), strict=True)
    try:
        head = [cell.strip() for cell in next(reader, [])]
        if head[:2] != ["step", "seconds"]:
            problem(1, "", ",".join(head), "a first line step,seconds", "Write it above the rows.")
            return found
        for row in reader:
            cells = [cell.strip() for cell in row]
            if not any(cells):
                continue
            line = reader.line_num
            step, said = [*cells, ""][:2]
            seconds = clock_seconds(said)
            if step not in steps:
                problem(line, "step", step, "the id of a step", nearest(step, steps))
            elif step in seen:
                problem(line, "step", step, "each step once", "Leave one of its rows out.")
            elif seconds is None:
                remedy = "Write, for example, 754.5 or 12:34."
                problem(line, "seconds", said, "seconds from the film's beginning", remedy)
            else:
                seen.add(step)
                where = Where(file=file, line=line, key="seconds")
                found.append(_Row(step=step, seconds=seconds, where=where))
    except csv.Error as error:
        problem(reader.line_num, "", str(error), "a table of two columns", "Save it as CSV with commas.")
    if not found and not problems:
        problem(0, "", "no rows", "a row step,seconds for each step shown", "Add one for each chapter.")
    return found


def clock_seconds(said: str) -> float | None:
    """Seconds from "754.5", "12:34" or "1:02:03"; None for anything else, and for what no film lasts."""
    if not re.fullmatch(r"(?:[0-9]{1,3}:(?:[0-5]?[0-9]:)?[0-5]?[0-9]|[0-9]{1,9})(?:\.[0-9]{1,9})?", said):
        return None
    seconds = 0.0
    for word in said.split(":"):
        seconds = seconds * 60 + float(word)
    return round(seconds, 3) if seconds <= LONGEST_FILM_SECONDS else None


# --- the three formats


def plain_title(title: str) -> str:
    """A title as one printable line: no control characters, no line ends, nothing that turns what follows.

    Joiners and the letters of any script stay; halves of a character become the mark for what is lost.
    """
    words = _BIDI_CONTROLS.sub("", title)
    # Everything at which some reader ends a line or a string: Cc, and the line and paragraph separators.
    words = re.sub("[\x00-\x1f\x7f-\x9f\u2028\u2029]+", " ", words)
    words = re.sub("[\ud800-\udfff]", "\ufffd", words)
    return " ".join(words.split())


def chapters_webvtt(marks: Sequence[Mark]) -> str:
    """Chapters as WebVTT, for a <track kind="chapters">."""
    cues = [
        _cue(str(number), mark.begins_seconds, mark.ends_seconds, [_title(mark)])
        for number, mark in enumerate(marks, 1)
    ]
    return "\n".join(["WEBVTT\n", *cues])


def chapters_ffmetadata(marks: Sequence[Mark], title: str) -> str:
    """Chapters as FFMETADATA, in milliseconds."""
    lines = [";FFMETADATA1", f"title={_metadata(plain_title(title))}"]
    for mark in marks:
        lines += [
            "",
            "[CHAPTER]",
            "TIMEBASE=1/1000",
            f"START={_milliseconds(mark.begins_seconds)}",
            f"END={_milliseconds(mark.ends_seconds)}",
            f"title={_metadata(_title(mark))}",
        ]
    return "\n".join(lines) + "\n"


def chapters_plain(marks: Sequence[Mark]) -> str:
    """Chapters as lines for a description: mm:ss, or h:mm:ss when the film is an hour or longer."""
    hours = bool(marks) and marks[-1].begins_seconds >= 3600
    return "".join(f"{clock(mark.begins_seconds, hours=hours)} {_title(mark)}\n" for mark in marks)


def clock(seconds: float, *, hours: bool) -> str:
    """mm:ss or h:mm:ss, begun seconds cut off."""
    whole = math.floor(seconds + 1e-6)
    minutes, second = divmod(whole, 60)
    if not hours:
        return f"{minutes:02d}:{second:02d}"
    return f"{minutes // 60}:{minutes % 60:02d}:{second:02d}"


def _title(mark: Mark) -> str:
    """Never empty: a chapter without words cannot be chosen."""
    return plain_title(mark.title) or plain_title(mark.step) or "…"


def _metadata(words: str) -> str:
    """The signs that mean something there, each after a backslash.

    A backslash at the end gets a blank after it: readers take the line's end for its own otherwise.
    """
    return re.sub(r"([=;#\\])", r"\\\1", words) + (" " if words.endswith("\\") else "")


def _milliseconds(seconds: float) -> int:
    return round(seconds * 1000)


def _cue(name: str, begins: float, ends: float, lines: Iterable[str]) -> str:
    """One cue. With every < > & escaped no line can be an arrow or markup."""
    body = "\n".join(_escaped(line) for line in lines)
    return f"{name}\n{_stamp(begins)} --> {_stamp(ends)}\n{body}\n"


def _escaped(words: str) -> str:
    return words.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")


def _stamp(seconds: float) -> str:
    whole, thousandth = divmod(_milliseconds(seconds), 1000)
    return f"{whole // 3600:02d}:{whole // 60 % 60:02d}:{whole % 60:02d}.{thousandth:03d}"


# --- subtitles


def subtitles_webvtt(machine: Machine, marks: Sequence[Mark], planned: Iterable[StepDuration]) -> str:
    """A skeleton to write over: for each mark its step's title, cautions and actions, spread as planned.

    Texts stand as long as they take to read, two lines at a time, and no longer than their action.
    """
    steps = {step.id: step for step in machine.steps}
    of_step = {one.step: one for one in planned}
    cues: list[str] = []
    for mark in marks:
        step, plan = steps.get(mark.step), of_step.get(mark.step)
        if step is None or plan is None:
            cues.append(_numbered(cues, mark.begins_seconds, mark.ends_seconds, [_title(mark)]))
            continue
        said = [_title(mark), *(f"Caution: {plain_title(word)}." for word in step.caution)]
        shares = [plan.begin_seconds, *(action.shown_seconds for action in plan.actions)]
        # With only the title, it has the whole chapter.
        stretch = (mark.ends_seconds - mark.begins_seconds) / (sum(shares) or 1.0)
        at = mark.begins_seconds
        for share, texts in zip(shares, [said, *([subtitle_of(one)] for one in step.actions)], strict=True):
            end = at + share * stretch
            for begins, ends, lines in _spread([part for text in texts for part in _screens(text)], at, end):
                cues.append(_numbered(cues, begins, ends, lines))
            at = end
    return "\n".join(["WEBVTT\n", *cues])


def _numbered(cues: Sequence[str], begins: float, ends: float, lines: Iterable[str]) -> str:
    return _cue(str(len(cues) + 1), begins, ends, lines)


def _screens(text: str) -> list[list[str]]:
    """A text as pairs of lines."""
    lines = textwrap.wrap(plain_title(text), LINE_CHARS, break_on_hyphens=False) or ["…"]
    return [lines[at : at + LINES] for at in range(0, len(lines), LINES)]


def _spread(
    screens: Sequence[list[str]], begins: float, ends: float
) -> Iterator[tuple[float, float, list[str]]]:
    """One after the other from the beginning; squeezed together when there is too little time."""
    wished = [
        min(MOST_SHOWN_SECONDS, max(LEAST_SHOWN_SECONDS, sum(map(len, lines)) / CHARS_PER_SECOND))
        for lines in screens
    ]
    squeeze = min(1.0, (ends - begins) / (sum(wished) or 1.0))
    at = begins
    for lines, seconds in zip(screens, wished, strict=True):
        stop = min(ends, at + seconds * squeeze)
        if _milliseconds(stop) > _milliseconds(at):  # less than a millisecond is seen by nobody
            yield at, stop, lines
        at = stop


_VERB_WORDS: Mapping[str, str] = {
    "sign-off": "sign off", "start": "start the screws of", "insert": "put in the nuts of",
    "press": "press in", "turn": "turn the work", "look": "look at",
}  # fmt: skip
_JOINT_VERBS = frozenset({"insert", "start", "snug", "tighten", "press", "route", "crimp"})
_NAMED = 3  # things of one sort named in a subtitle; more are counted


def subtitle_of(action: Action) -> str:
    """An action as a sentence: its own words, after what it is done to."""
    joints = [*action.joints, *action.fastenings]
    of_joints = action.verb in _JOINT_VERBS
    things = [*joints, *action.parts] if of_joints else [*action.parts, *joints]
    things += action.reads
    named = ", ".join(thing.rpartition("/")[2].replace("-", " ") for thing in things[:_NAMED])
    more = f" and {len(things) - _NAMED} more" if len(things) > _NAMED else ""
    done = f"{_VERB_WORDS.get(action.verb, action.verb)} {named}{more}".strip()
    if action.verb == "wait" and action.minutes:
        done = f"wait {action.minutes:g} min"
    said = plain_title(action.says)
    if said and not things:
        return said
    return f"{done[:1].upper()}{done[1:]}. {said}".strip()
