"""`names.toml`: which part a vendor's name means, confirmed once by the builder and remembered.

```toml
[names]
"M3x8 BHCS" = "ISO 7380-1 M3x8"
"Rail 280 with carriage" = ["rail 9x280", "block 9 long"]
"Foam" = ""
```

An empty text says that it is no part of this machine. Names are compared without regard to capitals,
spaces and what they say of packs.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from pathlib import Path as DiskPath

from trysquare.ground.errors import ReadingError, Where
from trysquare.machine.toml_files import read_toml
from trysquare.stock.quantities import without_pack

FILE_NAME = "names.toml"
_AGAIN = 'Correct it, or confirm the name again: trysquare stock FOLDER --confirm "name=part".'
_HEAD = "# Vendors' names for parts, each confirmed once.\n\n[names]\n"


def plain_name(name: str) -> str:
    """The form in which names are compared."""
    return " ".join(without_pack(name).casefold().split())


def read_names(
    folder: DiskPath, is_part: Callable[[str], str | None], problems: list[ReadingError]
) -> dict[str, tuple[str, ...]]:
    """Plain names with the parts they mean, () for what is no part of this machine.

    `is_part` gives the canonical name of a part or designation, None for what is neither.
    """
    file = folder / FILE_NAME
    if not (file.exists() or file.is_symlink()):
        return {}
    read = read_toml(folder, file, problems)
    if read is None:
        return {}
    source, raw = read

    def problem(path: tuple[str, ...], said: object, expected: str, remedy: str) -> None:
        where = Where(file=source.name, line=source.line(path), key=".".join(path))
        problems.append(ReadingError(where=where, read=said, expected=expected, remedy=remedy))

    for key in raw:
        if key != "names":
            problem((key,), key, "the table names alone", "Write the names under [names].")
    names = raw.get("names", {})
    if not isinstance(names, dict):
        problem(("names",), names, "a table of names", 'Write [names] and below it "name" = "part".')
        return {}
    found: dict[str, tuple[str, ...]] = {}
    for name, said in names.items():
        words = said if isinstance(said, list) else [said]
        if not all(isinstance(word, str) for word in words):
            problem(("names", name), said, "a part, or a list of parts", 'Write "name" = "part".')
            continue
        spoken = [word for word in words if word.strip()]
        parts = tuple(part for word in spoken if (part := is_part(word)) is not None)
        if len(parts) < len(spoken):
            read_as = next(word for word in spoken if is_part(word) is None)
            problem(("names", name), read_as, "a part of this machine or a designation", _AGAIN)
        elif found.get(plain_name(name), parts) != parts:
            problem(("names", name), name, "each name once", "Two rows mean different parts; keep one.")
        else:
            found[plain_name(name)] = parts
    return found


def with_names(text: str, confirmed: Mapping[str, Iterable[str]]) -> str:
    """The text of `names.toml` with these names added or changed; all the rest of it stays as it is."""
    import tomlkit  # noqa: PLC0415  # only wanted where something is written

    document = tomlkit.parse(text if text.strip() else _HEAD)
    table = document.get("names")
    if table is None:
        table = tomlkit.table()
        document["names"] = table
    for name, parts in confirmed.items():
        words = list(parts)
        same = [key for key in table if plain_name(str(key)) == plain_name(name)]
        for key in same[1:]:
            del table[key]
        table[same[0] if same else name] = words[0] if len(words) == 1 else words or ""
    return tomlkit.dumps(document)
