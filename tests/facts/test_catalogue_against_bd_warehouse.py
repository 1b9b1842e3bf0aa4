"""The catalogue against the tables inside the package bd-warehouse: only its CSV files are read.

Where its columns hold something else than their names say, a test says so, so that nobody later
"corrects" our tables by them.
"""

from __future__ import annotations

import csv
from importlib.metadata import PackageNotFoundError, version
from importlib.util import find_spec
from pathlib import Path

import pytest

from trysquare.catalogue.holes import clearance_hole_mm
from trysquare.catalogue.nuts import nut, washer
from trysquare.catalogue.rows import rows
from trysquare.catalogue.screws import screw, standard_lengths_mm
from trysquare.catalogue.threads import thread, thread_names
from trysquare.catalogue.values import Screw

pytestmark = pytest.mark.outside

CHECKED_VERSION = "0.4"


def tables_folder() -> Path:
    """Where the package keeps its tables. The package itself is not imported: it pulls in a CAD kernel."""
    try:
        found = find_spec("bd_warehouse")
        installed = version("bd-warehouse")
    except (PackageNotFoundError, ModuleNotFoundError):
        found, installed = None, "none"
    if found is None or not found.submodule_search_locations:
        pytest.skip("bd-warehouse is not installed: the fastener tables are NOT checked against it")
    if not installed.startswith(CHECKED_VERSION):
        pytest.skip(
            f"bd-warehouse {installed} is not the {CHECKED_VERSION} whose oddities we know: NOT checked"
        )
    return Path(found.submodule_search_locations[0]) / "data"


def table(name: str) -> dict[str, dict[str, str]]:
    """A table by thread name ("M3"), coarse pitch only, its headings without stray spaces."""
    with (tables_folder() / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        read = [
            {(key or "").strip(): (value or "").strip() for key, value in row.items()}
            for row in csv.DictReader(file)
        ]
    coarse = {f"{item}-{thread(item).pitch_mm:g}": item for item in thread_names()}
    kept = {}
    for row in read:
        name_here = coarse.get(row["Size"], row["Size"] if row["Size"] in thread_names() else "")
        if name_here:
            kept[name_here] = row
    return kept


def longest(standard: str, name: str) -> Screw:
    return screw(standard, name, standard_lengths_mm(standard, name)[-1])


@pytest.mark.parametrize("name", thread_names())
def test_cylinder_heads_agree(name: str) -> None:
    theirs, ours = table("socket_head_cap_parameters")[name], longest("ISO 4762", name)
    assert ours.head_diameter_mm == float(theirs["iso4762:dk"])
    assert ours.head_height_mm == float(theirs["iso4762:k"])
    assert ours.key_mm == float(theirs["iso4762:s"])
    assert ours.key_depth_mm == float(theirs["iso4762:t"])


@pytest.mark.parametrize("name", ["M3", "M4", "M5", "M6", "M8"])
def test_button_heads_agree(name: str) -> None:
    theirs, ours = table("button_head_parameters")[name], longest("ISO 7380-1", name)
    assert ours.head_diameter_mm == float(theirs["iso7380_1:dk"])
    assert ours.head_height_mm == float(theirs["iso7380_1:k"])
    assert ours.key_depth_mm == float(theirs["iso7380_1:t"])


@pytest.mark.parametrize("name", ["M3", "M4", "M5", "M6", "M8"])
def test_their_button_head_key_column_is_the_socket_at_its_widest(name: str) -> None:
    socket_mm = float(table("button_head_parameters")[name]["iso7380_1:s"])
    assert 0.05 < socket_mm - longest("ISO 7380-1", name).key_mm < 0.2


@pytest.mark.parametrize("name", ["M3", "M4", "M5", "M6", "M8"])
def test_their_iso_10642_columns_hold_din_7991(name: str) -> None:
    theirs = table("countersunk_head_parameters")[name]
    head = (float(theirs["iso10642:dk"]), float(theirs["iso10642:k"]))
    older, ours = longest("DIN 7991", name), longest("ISO 10642", name)
    assert head == (older.head_diameter_mm, older.head_height_mm)
    assert ours.head_diameter_mm > head[0]
    assert ours.head_height_mm > head[1]
    # their t is the older standard's maximum, ours its minimum
    assert 0 < float(theirs["iso10642:t"]) - older.key_depth_mm < 0.4


@pytest.mark.parametrize("name", thread_names())
def test_set_screw_keys_and_long_socket_depths_agree(name: str) -> None:
    theirs = table("setscrew_parameters")[name]
    for standard in ("ISO 4026", "ISO 4029"):
        ours = longest(standard, name)
        assert ours.key_mm == float(theirs["iso4026:s"])
        assert ours.key_depth_mm == float(theirs["iso4026:t"])


@pytest.mark.parametrize("name", thread_names())
def test_hexagon_nuts_agree(name: str) -> None:
    theirs, ours = table("hex_nut_parameters")[name], nut("ISO 4032", name)
    assert (ours.across_flats_mm, ours.height_mm) == (float(theirs["iso4032:s"]), float(theirs["iso4032:m"]))


@pytest.mark.parametrize("name", [name for name in thread_names() if name != "M3"])
def test_thin_hexagon_nuts_agree(name: str) -> None:
    # their M3 stands under a pitch of 0.45, which no M3 nut has
    theirs, ours = table("hex_nut_parameters")[name], nut("ISO 4035", name)
    assert (ours.across_flats_mm, ours.height_mm) == (float(theirs["iso4035:s"]), float(theirs["iso4035:m"]))


@pytest.mark.parametrize("name", ["M5", "M6", "M8"])
def test_square_nuts_agree(name: str) -> None:
    theirs, ours = table("square_nut_parameters")[name], nut("DIN 557", name)
    assert (ours.across_flats_mm, ours.height_mm) == (float(theirs["din557:s"]), float(theirs["din557:m"]))


@pytest.mark.parametrize("name", thread_names())
def test_plain_washers_agree_when_their_thickness_is_read_as_the_greatest(name: str) -> None:
    theirs, ours = table("plain_washer_parameters")[name], washer("ISO 7089", name)
    greatest_mm = next(float(row["thickness_max_mm"]) for row in rows("washers") if row["thread"] == name)
    assert ours.inner_mm == float(theirs["iso7089:d1"])
    assert ours.outer_mm == float(theirs["iso7089:d2"])
    assert greatest_mm == float(theirs["iso7089:h"])
    assert ours.thickness_mm < greatest_mm


@pytest.mark.parametrize("name", thread_names())
def test_clearance_holes_agree(name: str) -> None:
    theirs = table("clearance_hole_sizes")[name]
    for fit, column in (("fine", "Close"), ("medium", "Normal"), ("coarse", "Loose")):
        assert clearance_hole_mm(name, fit) == float(theirs[column])


@pytest.mark.parametrize("name", thread_names())
def test_tap_drills_agree(name: str) -> None:
    assert thread(name).tap_drill_mm == float(table("tap_hole_sizes")[name]["Soft"])


def test_the_longest_and_shortest_standard_lengths_agree_where_they_name_them() -> None:
    sources = {
        "ISO 4762": ("socket_head_cap_parameters", "iso4762"),
        "ISO 7380-1": ("button_head_parameters", "iso7380_1"),
        "ISO 10642": ("countersunk_head_parameters", "iso10642"),
    }
    apart = {}
    for standard, (file, key) in sources.items():
        for name, theirs in table(file).items():
            if not theirs[f"{key}:dk"] or name not in [
                row["thread"] for row in rows("screw_lengths") if row["standard"] == standard
            ]:
                continue
            lengths_mm = standard_lengths_mm(standard, name)
            both = (
                (lengths_mm[0], lengths_mm[-1]),
                (float(theirs[f"{key}:short"]), float(theirs[f"{key}:long"])),
            )
            if both[0] != both[1]:
                apart[f"{standard} {name}"] = both
    # two rows of ISO 4762 start one length later with us, from memory; both lengths resolve as also sold
    assert apart == {
        "ISO 4762 M6": ((10.0, 60.0), (8.0, 60.0)),
        "ISO 4762 M8": ((12.0, 80.0), (10.0, 80.0)),
    }
