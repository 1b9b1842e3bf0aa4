"""What a designation reads as, and what it says when it cannot be read."""

from __future__ import annotations

import subprocess
import sys

import pytest

from trysquare.catalogue import values
from trysquare.catalogue.lookup import UnknownDesignation, designations, lookup
from trysquare.ground.errors import ReadingError

SORTS = {
    "ISO 4762 M3x10": values.Screw,
    "ISO 4762 M3x10 8.8": values.Screw,
    "ISO 7380-1 M3x8": values.Screw,
    "ISO 7380-1 M3x8 A2-70": values.Screw,
    "ISO 10642 M4x12": values.Screw,
    "DIN 7991 M4x12": values.Screw,
    "ISO 4026 M3x5": values.Screw,
    "ISO 4029 M3x5 45H": values.Screw,
    "ISO 4032 M3": values.Nut,
    "ISO 4032 M3 8": values.Nut,
    "ISO 4035 M5": values.Nut,
    "DIN 562 M3": values.Nut,
    "DIN 557 M5": values.Nut,
    "DIN 934 M5": values.Nut,
    "ISO 7089 M3": values.Washer,
    "heat-set insert M3x5.7": values.Insert,
    "profile 15x15 slot 3": values.Profile,
    "profile 20x20 slot 6": values.Profile,
    "profile 20x40 slot 6": values.Profile,
    "profile 40x40 slot 6": values.Profile,
    "profile 40x40 slot 8": values.Profile,
    "slide-in nut slot 6 M5": values.SlotNut,
    "roll-in nut slot 6 M3": values.SlotNut,
    "quarter-turn nut slot 6 M4": values.SlotNut,
    "hex-in-slot nut slot 6 M4": values.SlotNut,
    "rail 9x200": values.RailSize,
    "rail 12x247.5": values.RailSize,
    "block 9 standard": values.BlockSize,
    "block 9 long": values.BlockSize,
    "belt 2 mm pitch 6 mm wide": values.BeltSize,
    "pulley 2 mm pitch 20 teeth bore 5": values.Pulley,
    "pulley 2 mm pitch 20 teeth bore 5 belt 9": values.Pulley,
    "idler 2 mm pitch 20 teeth bore 5": values.Pulley,
    "idler smooth 12 bore 5": values.Pulley,
    "lead screw 8x2 starts 4 length 250": values.LeadScrew,
    "wire AWG 20": values.Wire,
    "wire 0.5 mm2": values.Wire,
    "grease NLGI 2": values.Grease,
}


@pytest.mark.parametrize(("designation", "sort"), SORTS.items())
def test_a_canonical_designation_names_a_part_of_its_sort(designation: str, sort: type) -> None:
    part = lookup(designation)
    assert isinstance(part, sort)
    assert part.designation == designation
    assert part.source


@pytest.mark.parametrize(
    ("written", "meant"),
    [
        ("iso7380-1 m3×8", "ISO 7380-1 M3x8"),
        ("ISO  7380-1  M3 X 8  a2-70", "ISO 7380-1 M3x8 A2-70"),
        ("ISO 4762 - M3 x 10 - 8.8", "ISO 4762 M3x10 8.8"),
        ("ISO 4762 M2,5*10", "ISO 4762 M2.5x10"),
        ("ISO 4762 M3.0x10.0", "ISO 4762 M3x10"),
        ("ISO 7380–1 M3x8", "ISO 7380-1 M3x8"),
        ("ISO 7380-1 M3x8 A2", "ISO 7380-1 M3x8 A2-70"),
        ("ISO 7380-1 M3x8 A2-070", "ISO 7380-1 M3x8 A2-70"),
        ("ISO 7380-1 M3x8 010.9", "ISO 7380-1 M3x8 10.9"),
        ("ISO 4026 M3x5 A2", "ISO 4026 M3x5 A2-21H"),
        ("iso 4026 m3x5 45h", "ISO 4026 M3x5 45H"),
        ("din562 m3", "DIN 562 M3"),
        ("Heat set insert M3 × 5,7", "heat-set insert M3x5.7"),
        ("20x20 slot 6", "profile 20x20 slot 6"),
        ("profile 40x20 slot 6", "profile 20x40 slot 6"),
        ("Slide in nut slot 6 M5", "slide-in nut slot 6 M5"),
        ("quarter turn nut slot 6 M4", "quarter-turn nut slot 6 M4"),
        ("RAIL 9 × 200,0", "rail 9x200"),
        ("Pulley 2mm pitch 20 teeth bore 5mm", "pulley 2 mm pitch 20 teeth bore 5"),
        ("smooth idler 12 bore 5", "idler smooth 12 bore 5"),
        ("wire 0,5 mm²", "wire 0.5 mm2"),
        ("awg20", "wire AWG 20"),
    ],
)
def test_designations_are_read_tolerantly(written: str, meant: str) -> None:
    assert lookup(written).designation == meant


@pytest.mark.parametrize(
    ("written", "suggestions"),
    [
        ("ISO 7380-1 M3x7", ("ISO 7380-1 M3x6", "ISO 7380-1 M3x8")),
        ("ISO 4762 M3x500", ("ISO 4762 M3x50",)),
        ("ISO 4762 M3x1", ("ISO 4762 M3x4",)),
        ("ISO 4762 M7x10", ("ISO 4762 M6", "ISO 4762 M8")),
        ("ISO 7380-1 M2x6", ("ISO 7380-1 M3",)),
        ("DIN 912 M3x10 8.8", ("ISO 4762 M3x10 8.8",)),
        ("ISO 7380 M3x8", ("ISO 7380-1 M3x8",)),
        ("DIN 125 M3", ("ISO 7089 M3",)),
        ("heat-set insert M3x5.5", ("heat-set insert M3x5", "heat-set insert M3x5.7")),
        ("rail 9x20", ("rail 9x30",)),
        ("rail 9x99999", ("rail 9x4000",)),
        ("pulley 2 mm pitch 14 teeth bore 5", ("pulley 2 mm pitch 16 teeth bore 5",)),
        ("pulley 2 mm pitch 16 teeth bore 8", ("pulley 2 mm pitch 16 teeth bore 6",)),
        ("wire AWG 19", ("wire AWG 18", "wire AWG 20")),
        ("wire 0.6 mm2", ("wire 0.5 mm2", "wire 0.75 mm2")),
        ("lead screw 8x2 starts 4 length 9000", ("lead screw 8x2 starts 4 length 2000",)),
        ("ISO 4762 M3x10 A2-71", ("ISO 4762 M3x10 A2-70",)),
    ],
)
def test_a_near_miss_is_answered_with_what_there_is(written: str, suggestions: tuple[str, ...]) -> None:
    with pytest.raises(UnknownDesignation) as raised:
        lookup(written)
    assert raised.value.suggestions[: len(suggestions)] == suggestions
    assert suggestions[0] in raised.value.remedy


def test_slips_of_spelling_suggest_the_right_word() -> None:
    with pytest.raises(UnknownDesignation) as raised:
        lookup("slidein nutt slot 6 M5")
    assert "slide-in nut slot 6 M5" in raised.value.suggestions


@pytest.mark.parametrize(
    "nonsense", ["", " ", "x", "bracket", "ISO", "ISO M3", "ISO 99999 M3x8", "M3x8", "٣"]
)
def test_what_names_no_standard_part_is_told_so_with_a_remedy(nonsense: str) -> None:
    with pytest.raises(UnknownDesignation) as raised:
        lookup(nonsense)
    assert raised.value.read == nonsense
    assert raised.value.remedy
    assert isinstance(raised.value, ReadingError)


def test_suggestions_can_themselves_be_looked_up() -> None:
    for written in (
        "ISO 7380-1 M3x7",
        "DIN 912 M3x10",
        "rail 9x20",
        "profile 20x20",
        "gauge NLGI 2",
        "wire AWG 1",
    ):
        with pytest.raises(UnknownDesignation) as raised:
            lookup(written)
        assert raised.value.suggestions, written
        for name in raised.value.suggestions:
            assert lookup(name).designation == name


def test_every_designation_of_the_catalogue_names_itself_and_none_stands_twice() -> None:
    names = list(designations())
    assert len(set(names)) == len(names)
    for name in names:
        part = lookup(name)
        assert part.designation == name
        assert part.source


def test_one_screw_reads_only_its_own_tables_and_no_numpy() -> None:
    script = (
        "import sys\n"
        "from trysquare.catalogue import rows\n"
        "read, original = [], rows.Path.open\n"
        "rows.Path.open = lambda self, *a, **k: (read.append(self.stem), original(self, *a, **k))[1]\n"
        "from trysquare.catalogue.lookup import lookup\n"
        "lookup('ISO 7380-1 M3x8 A2-70')\n"
        "print(sorted(read), 'numpy' in sys.modules)\n"
    )
    told = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, check=True, env=_environment()
    ).stdout
    tables = ["length_tolerances", "screw_lengths", "screw_standards", "screws", "threads"]
    assert told.strip() == f"{tables} False"


def _environment() -> dict[str, str]:
    import os

    return {**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)}
