"""What is wrong with a text that the standard TOML reader refuses, in the words of the bench.

The reader stops at the first fault and says where; what a person did there (a quote left out, a comma for a
point) is told from what stands at that place. Nothing here decides whether a text is valid.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable
from dataclasses import dataclass

from trysquare.machine.toml_slips_twice import first_line, key_before

_PLACE = re.compile(r"\(at line (\d+), column (\d+)\)")
_CURLY = "“”„‟‘’‚‛«»″′"
_WORD = re.compile(r"""[^\s,\]}#"'=]+""")
_STATEMENT = re.compile(r"""[ \t]*(?:\[\[?[ \t]*[\w"'][^,\n]*\]|[\w"'][\w.\- "']*=)""")
_NUMBER = re.compile(r"[+-]?\d[\d_]*(?:\.\d+)?$")
_TOKEN = re.compile(
    r'#[^\n]*+|"""(?:[^"\\]++|\\.|"{1,2}(?!"))*+"{3,5}|' + r"'''(?:[^']++|'{1,2}(?!'))*+'{3,5}|"
    r"\"\"\"|'''|" + r'"(?:[^"\\\n]++|\\[^\n])*+"|' + r"'[^'\n]*+'|[\[\]{}\"']",
    re.DOTALL,
)
_NEAR = 2000  # characters on either side of the place that are looked at: no line is longer by hand
_LONGEST = 150  # of a sentence that repeats what was read
_COMMENTS = ("//", "--", "/*", ";", "%", "REM ")
_MEANT = {"true": "true", "yes": "true", "on": "true", "false": "false", "no": "false", "off": "false"}
_ANY_VALUE = "a text in quotes, a number, true or false, [ or {"


@dataclass(frozen=True, slots=True, kw_only=True)
class Slip:
    """Where a text stops being TOML, and why. `line` and `column` count from 1; `row` is the whole line."""

    line: int
    column: int
    row: str
    expected: str
    remedy: str


@dataclass(frozen=True, slots=True, kw_only=True)
class _Spot:
    """The place where the reader stopped. `before` and `rest`: what stands on its line on either side."""

    text: str
    at: int
    message: str
    before: str
    rest: str
    opened: tuple[int, ...]
    """Offsets of the quotes and brackets that are still open there, the outermost first."""

    @property
    def value(self) -> str:
        """What the reader took for the value so far: from the last = on this line."""
        return self.before.rpartition("=")[2].strip()

    @property
    def key(self) -> str:
        return key_before(self.before) or "length_mm"


def slip_in(text: str, message: str) -> Slip:
    """What to say of a text that is no TOML; `message` is the standard reader's and ends with the place."""
    text = text.replace("\r\n", "\n")
    found = _PLACE.search(message)
    if found:
        at = min(len(text), _start_of_line(text, int(found.group(1))) + int(found.group(2)) - 1)
    else:  # "at end of document": blank lines there say nothing
        at = len(text.rstrip())
    start, end = _row_of(text, at)
    spot = _Spot(
        text=text,
        at=at,
        message=message,
        before=text[max(start, at - _NEAR) : at],
        rest=text[at : min(end, at + _NEAR)],
        opened=_opened(text, at),
    )
    answers = (rule(spot) for rule in _RULES)
    unknown = (at, "key = value, one to a line", "Check the quotes, brackets and commas of this line.")
    where, expected, remedy = next((answer for answer in answers if answer is not None), unknown)
    start, end = _row_of(text, where)
    return Slip(
        line=text.count("\n", 0, where) + 1,
        column=where - start + 1,
        row=text[start:end],
        expected=_cut(expected),
        remedy=_cut(remedy),
    )


def _cut(text: str) -> str:
    return text if len(text) <= _LONGEST else text[: _LONGEST - 1] + "…"


def _row_of(text: str, at: int) -> tuple[int, int]:
    end = text.find("\n", at)
    return text.rfind("\n", 0, at) + 1, len(text) if end < 0 else end


def _start_of_line(text: str, line: int) -> int:
    at = 0
    for _ in range(line - 1):
        at = text.find("\n", at) + 1
    return at


def _opened(text: str, end: int) -> tuple[int, ...]:
    opened: list[int] = []
    for token in _TOKEN.finditer(text):
        if token.start() >= end:
            break
        word = token.group()
        if word in ("[", "{"):
            opened.append(token.start())
        elif word in ("]", "}"):
            if opened:
                opened.pop()
        elif word in ('"', "'", '"""', "'''"):  # a whole text is one token: this one has no end
            opened.append(token.start())
            break
    return tuple(opened)


_Answer = tuple[int, str, str] | None  # the offset of the mark, what was expected, what to do


def _twice(spot: _Spot) -> _Answer:
    if not spot.message.startswith(("Cannot", "Duplicate")):
        return None
    row = spot.before.strip()
    start = spot.at - len(spot.before.lstrip())
    name = row.strip("[] ") if row.startswith("[") else (key_before(spot.before) or row)
    if spot.message.startswith("Duplicate"):
        again = start + max(0, row.rfind(name))
        return again, f"each key once between the braces; '{name}' stands there twice", "Keep one of the two."
    line = first_line(spot.text, start)
    there = f" at line {line}" if line else " before"
    many = re.search(rf"^\s*\[\[\s*{re.escape(name)}\s*\]\]", spot.text[:start], re.MULTILINE)
    if row.startswith("[") and not row.startswith("[[") and many:
        return start, f"[[{name}]], as the ones before it", f"Write [[{name}]] in double brackets."
    if row.startswith("["):
        remedy = "Put what belongs together under one heading, or give one of the two another id."
        return start, f"a table of its own; '{name}' stands already{there}", remedy
    return (
        start,
        f"a key of its own; '{name}' stands already{there}",
        "Keep one of the two, delete the other.",
    )


def _backslash(spot: _Spot) -> _Answer:
    if not spot.message.startswith(("Unescaped", "Invalid hex", "Escaped char")):
        return None
    at = spot.text.rfind("\\", 0, spot.at + 1)
    quote = spot.text.rfind('"', 0, at)
    end = spot.text.find('"', at)
    whole = spot.text[quote + 1 : end if end >= 0 else None].partition("\n")[0]
    slashed = whole.replace("\\", "/")
    expected = "a text without a lone backslash; between double quotes \\ begins a special sign"
    return at, expected, f"Write '{whole}' in single quotes, or \"{slashed}\" with / for \\."


def _odd_character(spot: _Spot) -> _Answer:
    char = spot.rest[:1]
    if not char or char == "\t" or char.isprintable():
        return None
    name = unicodedata.name(char, "a control character").lower()
    expected = f"no odd character; here stands U+{ord(char):04X} ({name}), which cannot be seen"
    return spot.at, expected, "Delete it and type the place anew; it often comes along when text is copied."


def _curly(spot: _Spot) -> _Answer:
    if spot.rest[:1] not in tuple(_CURLY):
        return None
    word = spot.rest.partition("#")[0].strip(_CURLY + " ,]}")
    expected = "straight quotes, \" or '; these are curly ones, as word processors make them"
    return spot.at, expected, f'Write "{word}" with the quotes of the keyboard, in a plain text editor.'


def _open_quote(spot: _Spot) -> _Answer:
    if not spot.opened or spot.text[spot.opened[-1]] not in "\"'":
        return None
    at = spot.opened[-1]
    quote = spot.text[at]
    if spot.text.startswith(quote * 3, at):
        expected = f"a closing {quote * 3}; the text that begins here never ends"
        return at, expected, f"Write {quote * 3} at its end."
    return at, f"a closing {quote} on the same line", f"Write {quote} where the text ends."


def _open_bracket(spot: _Spot) -> _Answer:
    """A bracket of an earlier line, or of this one when nothing else stands behind it."""
    if not spot.opened or spot.message.startswith("Expected '"):
        return None
    at = spot.opened[-1]
    if "=" not in spot.text[:at]:  # a heading's
        return None
    open_, close = spot.text[at], {"[": "]", "{": "}"}[spot.text[at]]
    here = "\n" not in spot.text[at : spot.at]
    at_end = not spot.rest.partition("#")[0].strip()
    if open_ == "{" and at_end and here:
        return at, "a closing } on the same line", "Write the whole table between { and } on one line."
    ended = not spot.text[spot.at :].strip() or _STATEMENT.match(spot.before + spot.rest) is not None
    remedy = f"Write {close} after its last value."
    if not here and ended:
        return at, f"a closing {close} for the {open_} that is opened here", remedy
    return (at, f"a closing {close}", remedy) if here and at_end else None


def _in_brackets(spot: _Spot) -> _Answer:
    if not spot.message.startswith(("Unclosed", "Invalid initial")) or not spot.opened:
        return None
    so_far = spot.before.rstrip()
    open_ = spot.text[spot.opened[-1]]
    close = {"[": "]", "{": "}"}[open_]
    if spot.rest[:1] in "]}" and spot.rest[:1] not in ("", close) and not so_far.endswith(","):
        return (
            spot.at,
            f"a closing {close} before {spot.rest[0]}",
            f"Write {close} after the last value here.",
        )
    if spot.rest[:1] in (";", ".") and not spot.rest[1:2].isdigit():
        return spot.at, f"a comma, not {spot.rest[0]}", "Write , in place of it."
    zero = re.search(r"(?<![\w.])[+-]?0$", so_far)
    digits = re.match(r"\d[\d.]*", spot.rest)
    if zero and digits and not spot.before[-1:].isspace():
        number = digits.group().lstrip("0") or "0"
        at = spot.at - len(spot.before) + len(so_far) - 1
        return at, "a number without zeros before it", f'Write {number}, or "0{digits.group()}" as a text.'
    if re.search(r"\d$", spot.before) and (letter := re.match(r"[oOlI]\w*", spot.rest)):
        return spot.at, "a digit, not a letter", f"Type 0 or 1 in place of the letter {letter.group()[0]}."
    if spot.rest[:1] == "}" and so_far.endswith(","):
        return spot.at - len(spot.before) + len(so_far) - 1, "no comma before }", "Delete this comma."
    if (spot.before + spot.rest).count('"') % 2:
        return (
            spot.at,
            "an even number of quotes on this line",
            'Look where a " is missing before this place.',
        )
    return spot.at, "a comma between two values", "Write , between this one and the one before."


def _key_alone(spot: _Spot) -> _Answer:
    if not spot.message.startswith("Expected '='"):
        return None
    row = spot.before + spot.rest
    key, sign, value = row.partition("=")
    words = key.strip()
    char = spot.rest[:1]
    if char == ":":
        after = row.partition(":")[2].strip()
        return spot.at, "= between key and value", f"Write {key_before(spot.before)} = {after or '…'}."
    if char.isalpha() and not char.isascii():
        remedy = f'Put the key in quotes: "{words.partition(" ")[0]}", or use plain letters.'
        return spot.at, "a key of the letters a to z, digits, - and _", remedy
    if sign and " " in words and '"' not in words:
        remedy = f"Write {words.replace(' ', '-')} ={value}, or put the key in quotes."
        return spot.at, "a key without blanks", remedy
    value = spot.rest.strip()
    if value:
        return spot.at, "= between key and value", f"Write {key_before(spot.before)} = {value}."
    remedy = f"Write {words} = and its value, or delete the line; a remark begins with #."
    return spot.at - len(spot.before.lstrip()), f"= and a value after '{words}'", remedy


def _heading(spot: _Spot) -> _Answer:
    if spot.message.startswith("Invalid initial") and "=" not in spot.before:
        return spot.at, "a name in the heading", "Write it between the brackets, for example [part.plate]."
    if not spot.message.startswith("Expected ']"):
        return None
    close = "]]" if "]]" in spot.message else "]"
    open_ = close.replace("]", "[")
    inside = (spot.before + spot.rest).partition("#")[0].strip().strip("[]")
    if spot.rest.partition("#")[0].strip().strip("]"):
        remedy = f"Write {open_}{inside.replace(' ', '-')}{close}."
        return spot.at, "a heading without blanks or odd signs", remedy
    return spot.at, f"a closing {close}", f"Write {open_}{inside}{close}."


def _no_statement(spot: _Spot) -> _Answer:
    if not spot.message.startswith("Invalid statement"):
        return None
    row = spot.rest.strip()
    if row.startswith(_COMMENTS):
        return spot.at, "a remark that begins with #", f"Write # {row.lstrip('/-*;% ')}"
    if row and row[0] in "]}),":
        return (
            spot.at,
            f"no {row[0]} here; nothing is open",
            "Delete it, or look for a bracket closed too early.",
        )
    if row.startswith("="):
        return spot.at, "a key before =", f"Write the key, for example length_mm {row}"
    return spot.at, "a key, a [heading] or a # remark", "Check how this line begins."


def _no_value(spot: _Spot) -> _Answer:
    if not spot.message.startswith("Invalid value"):
        return None
    rest = spot.rest
    if not rest.partition("#")[0].strip():
        remedy = f"Write it after =, for example {spot.key} = 20, or delete the line."
        return spot.at, f"a value after {spot.key} =", remedy
    if rest[0] == "=":
        return spot.at, "one = between key and value", "Delete this one."
    if rest[0] in ",]}":
        remedy = "Write the value that is missing, or delete the comma."
        return spot.at, "a value before this sign", remedy
    found = _WORD.match(rest)
    word = found.group() if found else rest[0]
    if meant := _MEANT.get(word.casefold()):
        return spot.at, "true or false, in small letters and without quotes", f"Write {meant}."
    if word.casefold() in ("null", "none", "nil", "nan"):
        return spot.at, "a value", f"Delete the line when {spot.key} has none."
    if re.fullmatch(r"[+-]?\.\d+", word):
        return spot.at, "a digit before the point", f"Write {word.replace('.', '0.')}."
    if found and rest[found.end() : found.end() + 1] in ('"', "'"):
        quote = rest[found.end()]
        return spot.at, f"an opening {quote}", f"Write {quote}{word}{quote}."
    whole = re.split(r"[,\]}#]", rest)[0].strip()
    return (
        spot.at,
        _ANY_VALUE,
        f'Write "{whole}" in quotes.' if '"' not in whole else "Check what stands here.",
    )


def _after_value(spot: _Spot) -> _Answer:
    if not spot.message.startswith("Expected newline"):
        return None
    value = spot.value
    rest = spot.before[len(spot.before.rstrip()) :] + spot.rest.rstrip()  # the reader has passed the blanks
    number = _NUMBER.match(value) is not None
    for pattern, only_number, expected, remedy in _AFTER:
        found = re.match(pattern, rest)
        if found and (number or not only_number):
            said = {"value": value, "rest": rest.strip(), "found": found.group(found.lastindex or 0)}
            return spot.at, expected, remedy.format(**said)
    if value[-1:] in ("'", '"'):
        outside = "'" if value[-1] == '"' else '"'
        remedy = f"Is {value[-1]} part of the text? Then put all of it between {outside} and {outside}."
        return spot.at, f"nothing after the text that ends with {value[-1]}", remedy
    return spot.at, "nothing more after the value", "Begin a new line, or begin a remark with #."


# What stands behind a value; whether the value must be a number; expected; remedy.
_AFTER: tuple[tuple[str, bool, str, str], ...] = (
    (r"\s*,(\d+)[^,]*$", True, "a decimal point, not a comma", "Write {value}.{found}."),
    (r"\s*[,;]\s*(#.*)?$", False, "nothing after the value", "Delete this sign."),
    (r"(\d\S*)", True, "a number without zeros before it", 'Write {found}, or "{value}{rest}" as a text.'),
    (r"-\d", True, "a date that exists, as 2026-11-29, or a text in quotes", 'Write "{value}{rest}".'),
    (r"\.(?!\d)", True, "a digit after the point", "Write {value}.0."),
    (r"\s*[/⁄]\s*(\d+)", True, "a decimal number, not a fraction",
     "Work it out: {value}/{found} as a decimal."),
    (r"_", True, "a number with one _ between two digits at most", "Write its digits alone."),
    (r"\s+\d", True, "a number without blanks", "Write all its digits together."),
    (r"\s*[\w.\"'-]+\s*=", False, "one key to a line", "Begin a new line before it."),
    (r"\s*([^\W\d_]+\S*|[%°″])", True, "a number alone; the key's name says its unit",
     'Write {value}, or "{value} {found}" if the key takes a text.'),
    (r"\s*[\]})]", False, "no closing bracket here; nothing is open",
     "Delete it, or write the one that opens it."),
)  # fmt: skip

_RULES: tuple[Callable[[_Spot], _Answer], ...] = (
    _twice, _backslash, _curly, _open_quote, _open_bracket, _odd_character, _key_alone, _heading,
    _no_statement, _no_value, _after_value, _in_brackets,
)  # fmt: skip
