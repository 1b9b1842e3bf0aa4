"""The page of unsure parts: what an import could not tell for sure, and what was answered."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from trysquare.ground.errors import ReadingError
from trysquare.intake.rulings import OWN, Memory, Ruling
from trysquare.intake.taken_in import Question
from trysquare.publish.part_picture import solid_picture
from trysquare.record.rulings_kept import Asked, KeptMesh, ruling_on
from trysquare.solid.meshes import manifold_of
from trysquare.solid.shapes import solid_from

PATH = "/unsure"
PICTURE_MM = (120.0, 80.0)
"""The largest that an unsure part is drawn."""
_SAYS_OWN = "a part of its own"
_SURE = ((0.8, "Nearly sure"), (0.6, "Likely"), (0.4, "As likely as not"), (0.0, "A guess"))
"""From which confidence on a recognition is called so."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """One answer. `value`: as the form posts it; `says`: as a person reads it."""

    value: str
    says: str


@dataclass(frozen=True, slots=True, kw_only=True)
class UnsurePart:
    """One question. `ask`: in words; `sure`: the confidence in words, "" when it says nothing;
    `answers`: the likeliest first, each a button; `others`: what else it may be; `said`: the answer."""

    digest: str
    about: str
    called: str
    pieces: int
    ask: str
    sure: str
    evidence: tuple[str, ...]
    answers: tuple[Choice, ...]
    others: tuple[Choice, ...]
    picture_href: str
    said: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class UnsureView:
    """`source`: the imported file; `asks`: whether this folder's import asked anything; `problem`: why the
    questions cannot be read."""

    source: str
    asks: bool
    open: tuple[UnsurePart, ...]
    answered: tuple[UnsurePart, ...]
    problem: ReadingError | None = None


def unsure_view(
    asked: Asked, memory: Memory, later: str = "", problem: ReadingError | None = None
) -> UnsureView:
    """The whole page. `later`: digest of the part that is left for later; it goes to the end."""
    parts = [_part(one, memory, asked) for one in asked.questions]
    waiting = [one for one in parts if not one.said]
    waiting.sort(key=lambda one: f"{one.about} {one.digest}" == later)
    return UnsureView(
        source=asked.source,
        asks=bool(parts),
        open=tuple(waiting),
        answered=tuple(one for one in parts if one.said),
        problem=problem,
    )


def answered(question: Question, answer: str) -> Ruling | None:
    """The ruling that an answer makes; None for an answer that was not offered."""
    if answer not in question.choices:
        return None
    if question.about == "printed":
        return Ruling(shape=question.digest, printed=answer == question.choices[0], called=question.called)
    return Ruling(shape=question.digest, says=answer, called=question.called)


def sure_in_words(confidence: float) -> str:
    """How sure a recognition is, in words and in hundredths."""
    says = next(says for least, says in _SURE if confidence >= least)
    return f"{says} ({confidence:.0%})".replace("%", " %")


def part_svg(asked: Asked, digest: str) -> str:
    """The picture of an asked shape; "" when it has none, or its skin is open."""
    if digest in asked.pictures:
        return asked.pictures[digest]
    called = next((one.called for one in asked.questions if one.digest == digest), "")
    return _drawn(asked.meshes[digest], called) if digest in asked.meshes else ""


@lru_cache(maxsize=64)
def _drawn(mesh: KeptMesh, called: str) -> str:
    try:
        body = manifold_of(*mesh.arrays())
    except ValueError:
        return ""
    picture = solid_picture(solid_from(body), called, *PICTURE_MM) if body is not None else None
    return "" if picture is None else picture.svg


def _part(question: Question, memory: Memory, asked: Asked) -> UnsurePart:
    ruling = ruling_on(question, memory)
    printed = question.about == "printed"
    likely = question.choices[0]
    choices = [Choice(value=one, says=_SAYS_OWN if one == OWN else one) for one in question.choices]
    picture = f"{PATH}/{question.digest}.svg" if asked.has_picture(question.digest) else ""
    answers: tuple[Choice, ...]
    if printed:
        answers = (Choice(value=likely, says="Yes, printed"), Choice(value=question.choices[-1], says="No"))
    else:
        answers = (Choice(value=likely, says="Yes"),)
    return UnsurePart(
        digest=question.digest,
        about=question.about,
        called=question.called,
        pieces=question.pieces,
        ask="Is it printed?" if printed else f"Is it {likely}?",
        sure="" if printed else sure_in_words(question.confidence),
        evidence=question.evidence,
        answers=answers,
        others=() if printed else tuple(choices[1:]),
        picture_href=picture,
        said="" if ruling is None else _said(ruling, printed=printed),
    )


def _said(ruling: Ruling, *, printed: bool) -> str:
    if printed:
        return "printed" if ruling.printed else "not printed"
    return _SAYS_OWN if ruling.says == OWN else ruling.says
