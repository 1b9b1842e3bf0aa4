"""A machine folder's files from its lines: TOML as a person would write it, and solids as STL."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping, Sequence
from types import MappingProxyType

import numpy as np

from trysquare.ground.placement import Array
from trysquare.intake.bodies import Triangles
from trysquare.intake.folder_lines import Lines
from trysquare.intake.joint_rows import Row
from trysquare.intake.own_types import OwnType

WIDTH = 110
PARTS_FILE = "parts.toml"
_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")
_STL_ROW = np.dtype(
    [("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("attribute", "<u2")]
)  # the binary STL's own layout


def folder_files(lines: Lines, *, source: str = "", summary: str = "") -> dict[str, bytes]:
    """All files of a new folder: name and content. `source`: the file it was read from."""
    files: dict[str, bytes] = {"machine.toml": machine_text(lines.name, source, summary).encode()}
    if lines.parts:
        files[PARTS_FILE] = parts_text(lines.parts, source, lines.guesses).encode()
    for unit, tables in lines.units.items():
        files[f"units/{unit}.toml"] = unit_text(tables).encode()
    for name, own in lines.shapes.items():
        files[name] = stl_of(own)
    return files


def machine_text(name: str, source: str = "", summary: str = "") -> str:
    """machine.toml."""
    lines = [f"# Read from {_remark(source)}." if source else "", "format = 1", f"name = {value_text(name)}"]
    if summary:
        lines.append(f"summary = {value_text(summary)}")
    return "\n".join(line for line in lines if line) + "\n"


def parts_text(
    parts: Mapping[str, Row], source: str = "", guesses: Mapping[str, str] = MappingProxyType({})
) -> str:
    """parts.toml. `guesses`: what a part's material was guessed from; a remark says so."""
    head = f"# Parts that no standard describes, as drawn in {_remark(source)}.\n\n" if source else ""
    return head + "\n".join(
        _table(f"part.{_key(name)}", row, guesses.get(name, "")) for name, row in parts.items()
    )


def unit_text(tables: Mapping[str, Row]) -> str:
    """units/NAME.toml."""
    text = _table("unit", tables["unit"])
    if tables["place"]:
        width = max(len(_key(name)) for name in tables["place"])
        rows = [f"{_key(name):<{width}} = {value_text(row)}" for name, row in tables["place"].items()]
        text += "\n[place]\n" + "\n".join(rows) + "\n"
    for name, row in tables["joint"].items():
        text += "\n" + _table(f"joint.{_key(name)}", row)
    return text


def value_text(value: object) -> str:
    """A value as TOML writes it, on one line."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        safe = value.encode("utf-8", "replace").decode()  # half a character from another encoding
        return json.dumps(safe, ensure_ascii=False).replace("\x7f", "\\u007f")
    if isinstance(value, float):
        return _figure(value)
    if isinstance(value, int):
        return str(value)
    if isinstance(value, Mapping):
        return (
            "{ " + ", ".join(f"{_key(str(key))} = {value_text(each)}" for key, each in value.items()) + " }"
        )
    assert isinstance(value, Sequence)
    return "[" + ", ".join(value_text(each) for each in value) + "]"


def stl_of(own: OwnType) -> bytes:
    """The solid of an own type as binary STL, in the part's own coordinates and millimetres."""
    return stl_bytes(own.found.frame.back(own.shape.points_mm), own.shape.triangles)


def stl_bytes(points_mm: Array, triangles: Triangles) -> bytes:
    """A mesh as binary STL, array (n, 3) of points and (m, 3) of their numbers."""
    corners = points_mm[triangles]
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    size = np.linalg.norm(normal, axis=1)
    rows = np.zeros(len(triangles), dtype=_STL_ROW)
    rows["normal"] = normal / np.where(size > 0, size, 1.0)[:, None]
    rows["corners"] = corners
    return b"Trysquare, millimetres".ljust(80) + len(rows).to_bytes(4, "little") + rows.tobytes()


def _table(head: str, row: Row, guessed: str = "") -> str:
    lines = [f"[{head}]"]
    for key, value in row.items():
        text = value_text(value)
        is_long = len(key) + 3 + len(text) > WIDTH and isinstance(value, list) and len(value) > 1
        is_tables = isinstance(value, list) and len(value) > 1 and isinstance(value[0], dict)
        if is_tables or is_long:
            lines.append(f"{key} = [")
            lines += [f"  {value_text(each)}," for each in value]
            lines.append("]")
        else:
            remark = f"  # a guess: {_remark(guessed)}" if guessed and key == "material" else ""
            lines.append(f"{key} = {text}{remark}")
    return "\n".join(lines) + "\n"


def _key(text: str) -> str:
    return text if _BARE_KEY.fullmatch(text) else json.dumps(text, ensure_ascii=False)


def _figure(value: float) -> str:
    """A number without exponent, as short as it can be read back the same to 12 decimals."""
    text = f"{value:.12f}".rstrip("0").rstrip(".")
    return text if text not in ("", "-0") else "0"


def _remark(text: str) -> str:
    """Text that stays within its remark."""
    return "".join(char if char.isprintable() else " " for char in text)
