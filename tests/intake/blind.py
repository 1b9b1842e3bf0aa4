"""Machines that nobody tuned on, as other programs drew them: what each piece is, and what we say it is."""

from __future__ import annotations

import functools
import json
import lzma
import tempfile
from collections import Counter
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from trysquare.intake.bodies import Assembly, Recognition, Sort
from trysquare.intake.cad_file import read_cad
from trysquare.intake.recognise import recognised

FILES = Path(__file__).parent / "files" / "blind"
NAMES = ("gantry.step", "gantry.3mf", "enclosure.step", "enclosure.3mf")
NEAR_MM = 0.02
NOT_IN_OUR_TABLES = {"enclosure": ("slot nut",)}  # an inch T-slot's nut: no row has its slot


def facts(name: str) -> dict[str, Any]:
    read: dict[str, Any] = json.loads((FILES / f"{name.partition('.')[0]}.json").read_text())
    return read


@functools.cache
def assembly(name: str) -> Assembly:
    """One of the files, read; `name` with its ending."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / name
        path.write_bytes(lzma.decompress((FILES / f"{name}.xz").read_bytes()))
        return read_cad(path)


def right_and_all(name: str) -> tuple[Counter[str], Counter[str]]:
    """How many pieces of each kind are recognised with their right measures, and how many there are."""
    said, read = facts(name), assembly(name)
    right: Counter[str] = Counter()
    there: Counter[str] = Counter()
    found: dict[int, Recognition] = {}
    for body, part in zip(read.bodies, said["order"], strict=True):
        asked = said["parts"][part]
        if body.shape not in found:
            found[body.shape] = recognised(read.shapes[body.shape])
        there[asked["kind"]] += 1
        right[asked["kind"]] += is_right(asked, found[body.shape])
    return right, there


def is_right(asked: Mapping[str, Any], found: Recognition) -> bool:
    """Whether a recognition has the kind and the measures that a piece was drawn from."""
    judge = _JUDGES.get(asked["kind"], lambda _asked, _found: True)
    return found.sort is Sort(asked["kind"]) and judge(asked, found)


def _is_named(asked: Mapping[str, Any], found: Recognition) -> bool:
    return found.designation == str(asked["designation"])


def _is_member(asked: Mapping[str, Any], found: Recognition) -> bool:
    bores = sorted(round(hole.diameter_mm, 1) for hole in found.holes)
    ends = [min(at, asked["length"] - at) for at, _bore in asked["holes"]]
    seen = [min(at, asked["length"] - at) for at in (hole.from_a_mm or 0.0 for hole in found.holes)]
    return (
        abs(found.parameters["length_mm"] - asked["length"]) < NEAR_MM
        and bores == sorted(bore for _at, bore in asked["holes"])
        and all(abs(one - other) < NEAR_MM for one, other in zip(sorted(ends), sorted(seen), strict=True))
    )


def _is_plate(asked: Mapping[str, Any], found: Recognition) -> bool:
    thick = abs(found.parameters["thickness_mm"] - asked["thickness"]) < NEAR_MM
    return thick and len(found.holes) == asked["holes"]


def _is_pulley(asked: Mapping[str, Any], found: Recognition) -> bool:
    what = f"{asked['teeth']} teeth" if "teeth" in asked else f"smooth {asked['running']}"
    return what in found.designation and found.designation.endswith(f"bore {asked['bore']}")


_JUDGES: dict[str, Callable[[Mapping[str, Any], Recognition], bool]] = {
    "screw": _is_named, "nut": _is_named, "washer": _is_named, "insert": _is_named,
    "member": _is_member, "plate": _is_plate, "pulley": _is_pulley,
    "slot nut": lambda asked, found: found.designation.endswith(asked["thread"]),
    "bearing": lambda asked, found: f"bearing {asked['what']}" in " ".join(found.evidence),
    "shaft": lambda asked, found: abs(found.parameters["diameter_mm"] - asked["d"]) < NEAR_MM,
    "motor": lambda asked, found: f"{asked['pattern']:g} apart" in " ".join(found.evidence),
    "rail": lambda asked, found: found.designation.startswith(f"rail {asked['width']}x"),
}  # fmt: skip
