"""All addresses of the bench, collected from the modules that serve them.

A room that adds pages writes a module with `ROUTES` and is named in `MODULES`; a page that stands in the menu
is named in `FURTHER`, too.
"""

from __future__ import annotations

from collections.abc import Sequence

from starlette.routing import BaseRoute

from trysquare.bench import (
    pages_build,
    pages_files,
    pages_film,
    pages_import,
    pages_join,
    pages_lists,
    pages_log,
    pages_sort,
    pages_static,
    pages_true,
    pages_tune,
)

MODULES = (
    pages_static, pages_build, pages_lists, pages_sort, pages_film, pages_log, pages_files, pages_join,
    pages_true, pages_tune, pages_import,
)  # fmt: skip
FURTHER: tuple[tuple[str, str], ...] = (("Truing", "/true"), ("Tuning", "/tune"))
"""Further pages in the menu, as (title, address)."""


def all_routes() -> Sequence[BaseRoute]:
    """Every route; what fits many addresses comes last."""
    return [*(route for module in MODULES for route in module.ROUTES), *pages_build.LAST_ROUTES]
