"""What to say of a file or folder that is not there: the nearest name beside it, or where its path ends."""

from __future__ import annotations

import difflib
from pathlib import Path

MOST_BESIDE = 2000  # names in a folder that are compared; more takes longer than a person waits


def unread(path: Path, error: OSError) -> tuple[str, str]:
    """What was read and what to do, for a file that cannot be opened."""
    if isinstance(error, FileNotFoundError | NotADirectoryError):
        return "no such file", nearest_beside(path) or "Check its name and its folder."
    if isinstance(error, PermissionError):
        return "a file that you may not read", "Give yourself the right to read it."
    if isinstance(error, IsADirectoryError):
        return "a folder", "Name the file in it."
    return error.strerror or "an error", "Check that it is there and that you may read it."


def nearest_beside(path: Path) -> str:
    """A sentence with the nearest name in the path's folder, or with the first folder that is not there.

    Empty when neither helps.
    """
    try:
        folder = path.parent
        if not folder.is_dir():
            missing = next(one for one in reversed((folder, *folder.parents)) if not one.is_dir())
            near = _nearest(missing)
            return f"There is no folder {missing}.{f' Did you mean {near}?' if near else ''}"
        near = _nearest(path)
    except (OSError, ValueError):  # a name too long, a zero byte, a folder that may not be looked into
        return ""
    return f"Did you mean {near}?" if near else ""


def _nearest(path: Path) -> str:
    """The path with the nearest name that stands in its folder; "" for none."""
    names: dict[str, str] = {}
    for count, one in enumerate(path.parent.iterdir()):
        if count >= MOST_BESIDE:
            break
        names[one.name.casefold()] = one.name
    close = difflib.get_close_matches(path.name.casefold(), sorted(names), n=1, cutoff=0.6)
    return str(path.with_name(names[close[0]])) if close else ""
