"""Rails and blocks as vendors write them: "linear rail 9x300", "rail 9x280 G1=5 G2=15", "block 12 long"."""

from __future__ import annotations

import re
from collections.abc import Iterator

from trysquare.catalogue.designation import written
from trysquare.stock.sureness import LIKELY, MAYBE, NUMBER, POOR

_ENDS = re.compile(
    rf"\bg ?1 ?[=:]? ?{NUMBER}(?: ?mm)?[ ,;/&+]*(?:and )?g ?2 ?[=:]? ?{NUMBER}(?: ?mm)?|"
    rf"\bg ?1 ?/ ?g ?2 ?[=:]? ?{NUMBER} ?/ ?{NUMBER}|"
    rf"\bends?(?: distances?)?(?: of)? ?[=:]? ?{NUMBER}(?: ?mm)? ?(?:/|and) ?{NUMBER}"
)
"""Both end distances of a rail, as ordering codes call them; common practice, no source."""
_ONE_END = re.compile(rf"\bg ?[12] ?[=:]? ?{NUMBER}(?: ?mm)?")


def without_ends(text: str) -> str:
    """The text without both end distances of a rail, which may look like inches ("ends 5/15")."""
    return _ENDS.sub(" ", text) if re.search(r"rail|guide|schiene", text) else text


def guides(text: str) -> Iterator[tuple[str, float]]:
    """Rails and blocks in a tidy text: designations, and how sure each is."""
    both = _ENDS.search(text)
    ends = [written(float(one)) for one in both.groups() if one] if both else []
    rest = _ENDS.sub(" ", text)
    one_end = _ONE_END.search(rest) is not None
    yield from _guide(_ONE_END.sub(" ", rest), ends, one_end=one_end)


def _guide(text: str, ends: list[str], *, one_end: bool) -> Iterator[tuple[str, float]]:
    """Rails and blocks. `ends`: both end distances, where the text says them; `one_end`: it says one."""
    numbers = [float(found) for found in re.findall(NUMBER, text)]
    widths = [value for value in numbers if value in (5, 7, 9, 12, 15)]
    if not widths:
        return
    width = written(widths[0])
    is_block = bool(re.search(r"block|carriage|slider|wagen|runner|truck", text))
    if is_block:
        kind = "long" if re.search(r"\blong|extended|lang", text) else "standard"
        plain = bool(re.search(r"\blong|standard|normal|regular|short|extended|lang", text))
        beside = bool(re.search(r"rail", text)) and not re.search(
            r"(?:for|to|on|für|auf|para|per|pour|voor)\b.*rail", text
        )
        yield f"block {width} {kind}", (LIKELY + 0.05 if plain else MAYBE) - 0.3 * beside
    if re.search(r"rail|guide|schiene", text):
        lengths = [value for value in numbers if value >= 40]
        for length in lengths[:2]:
            plain = len(lengths) == 1 and len(widths) == 1 and not is_block
            name, sure = f"rail {width}x{written(length)}", LIKELY + 0.05 if plain else MAYBE
            if ends:
                yield f"{name} ends {ends[0]}/{ends[1]}", LIKELY + 0.1 if plain else MAYBE
            yield name, POOR if ends else MAYBE if one_end else sure
