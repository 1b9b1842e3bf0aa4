"""How content is spoiled: bits turned, ends cut off, lines exchanged, words replaced."""

from __future__ import annotations

from random import Random

NASTY = (
    "", " ", "-", "--", "-1", "0", "-0.0", "1e308", "-1e309", "nan", "inf", "1e-320", "9" * 400, "0x10",
    "1_000", "١٢", "½", "1,5", "1.", ".5", "5 mm", "../../..", "..", ".", "/", "//", "a/b/c", "a\\b",
    "C:\\x", "~", "nul", "x" * 5000, "x/" * 2000 + "x", "\u202e", "\ud800", "\x1b[31m", "\x07", "a\nb",
    "a\tb", "a\rb", "'", '"', "'''", '"""', "[", "]", "{", "}", "[[[[", "=", "#", "<b>", "&amp;", "%s",
    "%n", "{0}", "{}", "$HOME", "`id`", "$(id)", "*", "?", "[a-", "(", "\\", "\ufeff", "\u0301", "🔩",
    "é" * 300, "None", "null", "true", "[]", "{}", "{\"a\":", "1:2:3", "1=2=3", "1,,2", ",", "=1",
    "1x1x1x1", "0x0", "-1x-1", "1e400x2", "x=:", ":", "x=1:0", "2031-13-45", "0000-00-00",
    "9999-12-31T99:99:99", "2031-02-29", "readings.csv", "machine.toml", "log.sqlite", ".", "xy rising nan",
    "http://", "postgresql://", "sqlite:///", "data:,", "file:///", "A=1,A=2", "A=-1",
    "A=999999999999999999999",
)  # fmt: skip


def bits_turned(content: bytes, chance: Random) -> bytes:
    """A few bits turned, at any place."""
    if not content:
        return b"\x00"
    spoiled = bytearray(content)
    for _ in range(chance.choice((1, 1, 2, 8, 64))):
        spoiled[chance.randrange(len(spoiled))] ^= 1 << chance.randrange(8)
    return bytes(spoiled)


def cut_off(content: bytes, chance: Random) -> bytes:
    """The content up to any place, sometimes nothing."""
    return content[: chance.choice((0, 1, chance.randrange(len(content) + 1), max(0, len(content) - 1)))]


def overwritten(content: bytes, chance: Random) -> bytes:
    """A stretch of zeros or noise in place of what was there, as a torn write leaves."""
    begin = chance.randrange(len(content) + 1)
    length = chance.choice((1, 16, 512, 4096))
    put = bytes(length) if chance.random() < 0.5 else chance.randbytes(length)
    return content[:begin] + put + content[begin + length :]


def bytes_spoiled(content: bytes, chance: Random) -> bytes:
    """Spoiled in one of these ways."""
    return chance.choice((bits_turned, cut_off, overwritten))(content, chance)


def text_spoiled(content: bytes, chance: Random) -> bytes:
    """Lines left out, doubled, exchanged or cut; words, numbers and separators replaced by nasty ones."""
    lines = content.decode("utf-8", "replace").splitlines(keepends=True) or [""]
    for _ in range(chance.choice((1, 1, 1, 2, 5))):
        lines = _one_change(lines or [""], chance)
    return "".join(lines).encode("utf-8", "surrogatepass")


def _one_change(lines: list[str], chance: Random) -> list[str]:
    at, other = chance.randrange(len(lines)), chance.randrange(len(lines))
    line = lines[at]
    way = chance.randrange(7)
    if way == 0:
        return lines[:at] + lines[at + 1 :]
    if way == 1:
        return [*lines[: at + 1], line, *lines[at + 1 :]]
    if way == 2:
        lines = list(lines)
        lines[at], lines[other] = lines[other], lines[at]
        return lines
    nasty = chance.choice(NASTY)
    if way == 3:
        changed = line[: chance.randrange(len(line) + 1)] + nasty + line[chance.randrange(len(line) + 1) :]
    elif way == 4:
        changed = nasty + "\n"
    else:
        changed = _word_replaced(line, nasty if way == 5 else _word_of(lines[other], chance), chance)
    return [*lines[:at], changed, *lines[at + 1 :]]


def _words(line: str) -> list[tuple[int, int]]:
    """Where words and numbers lie in a line."""
    found: list[tuple[int, int]] = []
    begin = -1
    for place, char in enumerate([*line, " "]):
        inside = char.isalnum() or char in "_.-"
        if inside and begin < 0:
            begin = place
        elif not inside and begin >= 0:
            found.append((begin, place))
            begin = -1
    return found


def _word_of(line: str, chance: Random) -> str:
    spots = _words(line)
    if not spots:
        return ""
    begin, end = chance.choice(spots)
    return line[begin:end]


def _word_replaced(line: str, word: str, chance: Random) -> str:
    spots = _words(line)
    if not spots:
        return line + word
    begin, end = chance.choice(spots)
    return line[:begin] + word + line[end:]
