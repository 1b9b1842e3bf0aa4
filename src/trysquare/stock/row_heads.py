"""Whether the words of a row name the part itself, or another thing by a word beside it: "M8 hex nut decal".

What a phrase is about stands last in English and German and first in French, Italian and Spanish, in Dutch
lists in either place. So the word in that place must be known: a part, a place in a machine ("motor",
"rear brace"), or, passed over, a quality (colour, finish, material, count). Any other word there makes
another thing of the part, as far as anybody knows, and the row is asked. The words stand in
row_vocabulary.csv; all of it is common practice, no source.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Iterable
from functools import cache
from importlib.resources import files
from itertools import pairwise

from trysquare.stock.row_words import without_remarks
from trysquare.stock.sureness import Obstacle

_ROMANCE = re.compile(
    r"\b(?:vis|[ée]crous?|rondelles?|courroies?|poulies?|insert filet[ée]|rail lin[ée]aire|fil|vit[ei]|"
    r"dad[oi]|rondell[ae]|cingh?i[ae]|pulegg[ei]a?|gran[oi]|filo|tornillos?|tuercas?|arandelas?|correas?|poleas?|"
    r"prisioneros?|profil[ée]|hilo|guid[ae]|gu[íi]as?|rotaia|binario)\b"
)
_DUTCH = re.compile(r"\b\w*(?:bout(?:en)?|moer(?:en)?|ringen|sluitring|schroe(?:f|ven)|geleiding|draad)\b")
_COMPOUND = re.compile(
    r"(?:schrauben?|muttern?|scheiben?|stifte?|riemen|profil|schienen?|wagen|litzen?|leitung|einsatz|buchsen?|"
    r"f[üu]e?hrung|gewinde|skruv(?:ar)?|bout(?:en)?|moer(?:en)?|ring(?:en)?|schroe(?:f|ven)|rad|kopf)$"
)
_GERMAN_PLACE = re.compile(
    r"[a-zäöüß]{3}(?:platten?|tr[äa]e?ger|halter(?:ung)?|wand|w[äa]e?nde|deckel|abdeckung|geh[äa]e?use|"
    r"rahmen|achsen?|schlitten|motor(?:en)?|l[üu]e?fter|kopf|tisch|bett|block|winkel|t[üu]e?r|spanner|"
    r"f[üu]e?hrung|lager|welle|arm|leiste|ecken?|umlenkung)$|^umlenkung$|^vorrat$"
)
"""German places in a machine, by what their compounds end in; common practice, no source."""
_OF = re.compile(
    r"^(?:an? |the )?(?!pack|set|bag|roll|reel|length|piece|pair|lot|spool|box|strip)[a-z]+s? of\b"
)
_COUNTED = re.compile(
    r"^(?:lot|bo[îi]te|sachet|paquet|scatola|confezione|caja|bolsa|paquete|doos|zak|beutel|packung) "
    r"(?:de|da|di|d'|van|von)? ?\d+ (?:de |di |van )?|\bhook[ -]up\b|\bpress[ -](?:fit|in)\b|"
    r"\b(?:bags?|boxe?s?|tins?) of \d+|\b\d+ ?(?:bags?|boxe?s?)\b"
)
"""Counted packs, and words in two pieces."""
_WORD = re.compile(r"[^\W\d_]+(?:['’][^\W\d_]+)?")
_CODE = re.compile(r"\S*\d\S*")
_MAKER = re.compile(
    r"\b(?:by|from|ex|vendor|under|between|near|into|onto|inside|behind|above|below|beside)\b.*$"
)
ASKS = "'{word}' may make another thing of it."


def head_in(raw: str, text: str) -> Obstacle | None:
    """What stands against a reading because of the word that the phrase is about; None where it is known.

    `raw`: the tidy text as written, which tells the language; `text`: the same in our words.
    """
    bare = without_remarks(text).split(", ")[0].strip(" ,.-")
    if _OF.search(bare):
        return Obstacle(ASKS.format(word=bare.partition(" of")[0]), asks=True)
    if bare and not re.search(r"\d", bare) and re.search(r"\d", text) and _COUNTED.sub("", bare):
        words = _WORD.findall(bare)
        if words and not any(_sort(word, _vocabulary()) == "part" for word in words):
            return Obstacle(ASKS.format(word=words[-1]), asks=True)  # "shelf for M3x8 SHCS"
    phrase = _MAKER.sub(" ", _CODE.sub(" ", _COUNTED.sub("", bare))).strip()
    words = _WORD.findall(phrase)
    known = _vocabulary()
    for word in words:
        if _sort(word, known) == "thing":
            return Obstacle(ASKS.format(word=word), asks=True)
    romance, dutch = _ROMANCE.search(raw), _DUTCH.search(raw)
    unknown = ""
    if not romance:
        placed = {
            word for before, word in pairwise(words) if _sort(before, known) == "position"
        }  # "rear brace", "z brace"
        unknown = _first_unknown((word for word in reversed(words) if word not in placed), known)
    if not unknown and (romance or dutch or not any(_sort(word, known) == "part" for word in words)):
        unknown = _first_unknown(words, known)
    return Obstacle(ASKS.format(word=unknown), asks=True) if unknown else None


def _first_unknown(words: Iterable[str], known: dict[str, str]) -> str:
    """The first word that is no quality, where nobody knows it; "" where it is known or there is none."""
    for word in words:
        sort = _sort(word, known)
        if not sort:
            return word
        if sort not in ("quality", "position"):
            return ""
    return ""


def _sort(word: str, known: dict[str, str]) -> str:
    """Of which sort a word is; "" for one that nobody knows."""
    for form in (word, word.removesuffix("s"), word.removesuffix("es"), word.removesuffix("'s")):
        if form in known:
            return known[form]
    if len(word) <= 2:
        return "quality"
    return "part" if _COMPOUND.search(word) else "place" if _GERMAN_PLACE.search(word) else ""


@cache
def _vocabulary() -> dict[str, str]:
    text = files("trysquare.stock").joinpath("row_vocabulary.csv").read_text(encoding="utf-8")
    found: dict[str, str] = {}
    for row in csv.DictReader(text.splitlines()):
        for word in row["words"].split():
            for piece in word.split("-"):
                found.setdefault(piece, row["sort"])
    return found
