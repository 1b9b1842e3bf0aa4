"""Torque and preload against rows that others published: `ledger/fasteners.csv`, read row by row."""

from __future__ import annotations

import csv
import math
import re
from collections import Counter
from collections.abc import Mapping
from pathlib import Path

import pytest

from trysquare.catalogue.engagement import least_engagement_mm
from trysquare.catalogue.strengths import strength
from trysquare.catalogue.threads import thread
from trysquare.catalogue.values import Thread
from trysquare.fit.preload import preload_newton, rule_torque_newton_metre, tightening_torque_newton_metre

pytestmark = pytest.mark.outside

Row = Mapping[str, str]

with (Path(__file__).parent / "ledger" / "fasteners.csv").open(encoding="utf-8", newline="") as file:
    ROWS = list(csv.DictReader(file))

VDI = r"tightening torque MA|assembly preload FM|max preload FM|FM;MA"


def of_kind(pattern: str) -> list[dict[str, str]]:
    return [row for row in ROWS if re.search(pattern, row["quantity"])]


def reading(row: Row) -> str:
    marks = {"memory": " from memory", "derived": " derived"}
    return f"{row['id']} {row['quantity'][:48]}{marks.get(row['how'], '')}"


def number(row: Row, name: str) -> float | None:
    found = re.search(rf"\b{name}=([0-9.]+)", row["inputs"])
    return float(found[1]) if found else None


def asked(row: Row, name: str) -> float:
    value = number(row, name)
    assert value is not None, (row["id"], name)
    return value


def thread_of(row: Row) -> Thread:
    """The coarse thread of a row, or the fine one whose pitch it states (ISO 724 basic sizes)."""
    if found := re.search(r"size=(M[0-9.]+)", row["inputs"]):
        return thread(found[1])
    diameter, pitch = asked(row, "d"), number(row, "P")
    if pitch is None:
        return thread(f"M{diameter:g}")
    triangle = math.sqrt(3) / 2 * pitch
    middle, root = diameter - 3 / 4 * triangle, diameter - 17 / 12 * triangle
    return Thread(
        name=f"M{diameter:g}x{pitch:g}",
        diameter_mm=diameter,
        pitch_mm=pitch,
        pitch_diameter_mm=middle,
        minor_diameter_mm=diameter - 5 / 4 * triangle,
        root_diameter_mm=root,
        stress_area_mm2=math.pi / 4 * ((middle + root) / 2) ** 2,
        tap_drill_mm=diameter - pitch,
        source="ISO 724",
    )


def friction_of(row: Row) -> float:
    for name in ("muG=muK", "mu"):
        if (value := number(row, name)) is not None:
            return value
    found = re.search(r"mu=([0-9.]+)", row["quantity"])
    assert found is not None
    return float(found[1])


def ours(row: Row) -> tuple[float, float]:
    """Preload in newton and torque in newton metre of a row's inputs."""
    size, friction = thread_of(row), friction_of(row)
    hex_head_mm = {"M1.6": 2.27}  # a row that states no head: that of ISO 4014, FAS-282, hole ISO 273 medium
    bearing, hole = number(row, "dw") or hex_head_mm[size.name], number(row, "dh") or 1.8
    preload = preload_newton(size, asked(row, "Rp0.2"), friction, number(row, "nu") or 0.9)
    return preload, tightening_torque_newton_metre(size, preload, friction, friction, (bearing + hole) / 2)


def allowed(row: Row, expected: float) -> float:
    words = row["tolerance"]
    if found := re.match(r"max\(([0-9.]+)%; ([0-9.]+)\)", words):
        return max(float(found[1]) / 100 * expected, float(found[2]))
    if found := re.match(r"([0-9.]+)%", words):
        # a derived value is printed to a few digits: half of its last one comes on top
        return float(found[1]) / 100 * expected
    found = re.match(r"([0-9.]+) \(table rounding\)", words)
    assert found is not None, words
    return float(found[1])


COMPARED = [row for row in of_kind(VDI) if not row["tolerance"].startswith("information")]


@pytest.mark.parametrize("row", COMPARED, ids=reading)
def test_preload_and_torque_agree_with_the_published_row(row: Row) -> None:
    preload, torque = ours(row)
    by_unit = {"N": preload, "kN": preload / 1000, "N.m": torque}
    for unit, text in zip(row["unit"].split(";"), row["expected"].split(";"), strict=True):
        last_place = 0.5 * 10.0 ** -len(text.partition(".")[2])
        limit = max(allowed(row, float(text)), last_place)
        assert by_unit[unit] == pytest.approx(float(text), rel=0, abs=limit), (row["id"], row["source"])


@pytest.mark.parametrize("row", of_kind(r"torque in an older|torque, spanner"), ids=reading)
def test_older_tables_lie_below_ours_by_as_much_as_their_row_says(row: Row) -> None:
    """They print the label 0.14 over values that today's equation gives for 0.12 to 0.14."""
    heads = {"M2": (3.07, 2.4), "M4": (5.88, 4.5), "M5": (6.88, 5.5), "M6": (8.88, 6.6)}
    size = thread_of(row)
    mean = sum(heads[size.name]) / 2
    low, high = (
        tightening_torque_newton_metre(size, preload_newton(size, 640, mu), mu, mu, mean)
        for mu in (0.12, 0.14)
    )
    assert 0.98 * low <= float(row["expected"]) <= high


@pytest.mark.parametrize(
    "row", of_kind(r"class [0-9.]+ (proof load|minimum ultimate tensile load)"), ids=reading
)
def test_no_tightening_goes_beyond_a_screw_s_published_loads(row: Row) -> None:
    """The largest preload, without any friction, stays below the tensile load and near the proof load."""
    found = re.match(r"(M[0-9.]+) class ([0-9.]+) (proof|minimum)", row["quantity"])
    assert found is not None
    preload = preload_newton(thread(found[1]), strength(found[2]).yield_mpa, 0.0)
    assert preload < float(row["expected"]) * (1.01 if found[3] == "proof" else 1.0)


@pytest.mark.parametrize("row", of_kind("torque by nut factor"), ids=reading)
def test_the_nut_factor_is_the_handbook_s(row: Row) -> None:
    torque = rule_torque_newton_metre(asked(row, "d"), asked(row, "F"), asked(row, "K"))
    assert torque == pytest.approx(float(row["expected"]), rel=0, abs=1e-9)


@pytest.mark.parametrize("row", of_kind("minimum engaged length, extruded"), ids=reading)
def test_aluminium_asks_for_the_engagement_of_practice(row: Row) -> None:
    least, _ = least_engagement_mm("tapped hole", "aluminium", "M5")
    assert least / 5.0 == pytest.approx(float(row["expected"]), abs=0.5)


def test_every_torque_and_preload_row_is_read() -> None:
    """The whole family, so that a pattern that stops reading its rows is seen."""
    words = r"torque|preload|FM;MA"
    read = {row["id"] for row in (*COMPARED, *of_kind(r"torque in an older|torque, spanner|torque by nut"))}
    left = [
        row["id"]
        for row in of_kind(words)
        if row["id"] not in read and "engaged length" not in row["quantity"]
    ]
    assert left == []
    counts = Counter(row["how"] for row in ROWS if row["id"] in read)
    print(dict(counts))
    assert counts.total() == 40
