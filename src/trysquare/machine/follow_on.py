"""Problems of reading with the cause first: a line that is wrong in itself, then those that miss its words.

A unit whose places cannot be read leaves every step and joint without the parts that it places. The rule is
simple: all stand by file and line, but what names something of a unit or part that has a problem of its own
stands behind all others, and says which problem is to be mended first.
"""

from __future__ import annotations

from collections.abc import Sequence
from fnmatch import fnmatchcase

from trysquare.ground.errors import ReadingError, Where

NAMING = ("a placed part", "a part of parts.toml", "a hole of part", "a pattern that some placed part fits",
          "a joint", "a unit", "a step")  # fmt: skip
"""How the expectation of a problem begins that only says: what is named here is not there."""


_TYPES = ("a part of parts.toml", "a hole of part")


def causes_first(problems: Sequence[ReadingError]) -> list[ReadingError]:
    """The problems in this order; those that follow from another say from which, in their remedy."""
    ordered = sorted(problems, key=lambda one: (one.where.file, one.where.line))
    own = [one for one in ordered if not _names_only(one)]
    told = [_following(one, own) if _names_only(one) else one for one in ordered]
    pairs = list(zip(ordered, told, strict=True))
    return [one for was, one in pairs if was is one] + [one for was, one in pairs if was is not one]


def _names_only(problem: ReadingError) -> bool:
    return problem.expected.startswith(NAMING)


def _following(problem: ReadingError, own: Sequence[ReadingError]) -> ReadingError:
    cause = next((one for one in own if _lacks(one.where, str(problem.read), problem.expected)), None)
    if cause is None:
        return problem
    spot = f"{cause.where.file}:{cause.where.line}" if cause.where.line else cause.where.file
    remedy = f"Mend {spot} first: this may follow from it. {problem.remedy}"
    return ReadingError(
        where=problem.where, read=problem.read, expected=problem.expected, remedy=remedy, row=problem.row
    )


def _lacks(cause: Where, name: str, expected: str) -> bool:
    """Whether a problem at this place can be why a name is not there.

    It is then the part's, the place's, or one of a unit's file as a whole.
    """
    unit, _, place = name.rpartition("/")
    if cause.file.startswith("units/") and "." not in cause.key and not expected.startswith(_TYPES):
        return not unit or cause.file == f"units/{unit}.toml"
    words = cause.key.split(".")
    if words[0] == "unit" and words[2:3] == ["place"] and len(words) > 3 and not expected.startswith(_TYPES):
        return unit in ("", words[1]) and fnmatchcase(words[3], place)
    part = expected.partition("a hole of part '")[2].rstrip("'") or name
    return words[:2] == ["part", part] and expected.startswith(_TYPES)
