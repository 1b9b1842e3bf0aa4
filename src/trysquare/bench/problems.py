"""Problems of reading as the command line gives them in JSON, for the pages."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from trysquare.bench.views import Problem
from trysquare.ground.errors import shown


def problem_of(said: Mapping[str, Any]) -> Problem:
    """One problem: where, what was read, what was expected, what to do."""
    line = said.get("line") or 0
    where = f"{said.get('file', '')}:{line}" if line else str(said.get("file", ""))
    key = said.get("key") or ""
    return Problem(
        where=f"{where}, {key}" if key else where,
        read=shown(said.get("read", "")),
        expected=str(said.get("expected", "")),
        remedy=str(said.get("remedy", "")),
    )
