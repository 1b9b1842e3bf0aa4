"""The adjustment against fits and networks that others published: `ledger/metrology.csv`, row by row."""

from __future__ import annotations

import csv
import re
from collections.abc import Sequence
from importlib import resources
from pathlib import Path

import numpy as np
import pytest

from trysquare.ground.placement import Array
from trysquare.truing.equations import FIXED, EquationsBuilder, Extra
from trysquare.truing.network import Adjustment, adjust

pytestmark = pytest.mark.outside

with (Path(__file__).parent / "ledger" / "metrology.csv").open(encoding="utf-8", newline="") as file:
    ROWS = {row["id"]: row for row in csv.DictReader(file)}


def expected(row: str) -> object:
    """A row's value within its own tolerance."""
    value, words = float(ROWS[row]["expected"]), ROWS[row]["tolerance"]
    if found := re.match(r"rel ([0-9.e-]+)", words):
        return pytest.approx(value, rel=float(found[1]), abs=0)
    return pytest.approx(value, rel=0, abs=float(words))


def fit(
    columns: Sequence[Sequence[float] | Array], y: Sequence[float] | Array, u: object = 1.0
) -> Adjustment:
    """A linear fit y = Σ bₖ·columnₖ as equations without any body."""
    build = EquationsBuilder()
    unknowns = [build.unknown(f"b{index}") for index in range(len(columns))]
    sigma = np.broadcast_to(np.asarray(u, dtype=float), np.shape(y))
    for index, value in enumerate(y):
        extras = [Extra(column=b, factor=float(columns[b][index])) for b in unknowns]
        build.linear(extras, float(value), float(sigma[index]))
    return adjust(build.done())


def deviation(fitted: Adjustment, unknown: int) -> float:
    """Standard deviation of an unknown, from the scatter of the rows themselves."""
    return float(fitted.unit_weight * np.sqrt(fitted.covariance[unknown, unknown]))


# --- fits


def test_the_thermometer_of_the_gum() -> None:
    # Source: JCGM 100:2008, H.3, table H.6
    t = np.array([21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511])
    b = [-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160]
    fitted = fit([np.ones(11), t - 20], b)
    covariance = fitted.covariance * fitted.unit_weight**2
    assert fitted.x[0] == expected("MET-023")
    assert deviation(fitted, 0) == expected("MET-024")
    assert covariance[0, 1] / np.sqrt(covariance[0, 0] * covariance[1, 1]) == expected("MET-027")
    assert fitted.unit_weight == expected("MET-028")
    at_30 = np.array([1.0, 10.0])
    assert fitted.unit_weight * fitted.uncertainty(at_30)[0] == expected("MET-030")


def norris() -> Array:
    """The certified file that scipy carries: y, x from its 61st line on."""
    file = resources.files("scipy") / "stats" / "tests" / "data" / "nist_linregress" / "Norris.dat"
    lines = file.read_text(encoding="ascii").splitlines()[60:]
    return np.array([[float(word) for word in line.split()] for line in lines if line.strip()])


def test_norris() -> None:
    y, x = norris().T
    fitted = fit([np.ones(36), x], y)
    assert fitted.x[0] == expected("MET-031")
    assert deviation(fitted, 0) == expected("MET-032")
    assert fitted.x[1] == expected("MET-033")
    assert deviation(fitted, 1) == expected("MET-034")
    assert fitted.unit_weight == expected("MET-035")
    assert fitted.chi_square == expected("MET-037")


# Source: NIST Statistical Reference Datasets, Pontius (load cell, J. Pontius, NIST): 20 loads, read twice
_PONTIUS = """
.11019 .21956 .32949 .43899 .54803 .65694 .76562 .87487 .98292 1.09146 1.20001 1.30822 1.41599 1.52399
    1.63194 1.73947 1.84646 1.95392 2.06128 2.16844 .11052 .22018 .32939 .43886 .54798 .65739 .76596 .87474
    .98300 1.09150 1.20004 1.30818 1.41613 1.52408 1.63159 1.73965 1.84696 1.95445 2.06177 2.16829
"""
PONTIUS_Y = np.array(_PONTIUS.split(), dtype=float)


def test_pontius() -> None:
    x = np.tile(np.arange(1, 21) * 150_000.0, 2)
    fitted = fit([np.ones(40), x, x**2], PONTIUS_Y)
    assert fitted.x[0] == expected("MET-038")
    assert fitted.x[1] == expected("MET-039")
    assert deviation(fitted, 1) == expected("MET-042")
    assert deviation(fitted, 2) == expected("MET-043")
    assert fitted.chi_square == expected("MET-044")


# Source: NIST StRD, Longley; the data from memory, held by the certified results
_LONGLEY = """
60323 83 234289 2356 1590 107608 1947   61122 88.5 259426 2325 1456 108632 1948
60171 88.2 258054 3682 1616 109773 1949  61187 89.5 284599 3351 1650 110929 1950
63221 96.2 328975 2099 3099 112075 1951  63639 98.1 346999 1932 3594 113270 1952
64989 99 365385 1870 3547 115094 1953   63761 100 363112 3578 3350 116219 1954
66019 101.2 397469 2904 3048 117388 1955 67857 104.6 419180 2822 2857 118734 1956
68169 108.4 442769 2936 2798 120445 1957 66513 110.8 444546 4681 2637 121950 1958
68655 112.6 482704 3813 2552 123366 1959 69564 114.2 502601 3931 2514 125368 1960
69331 115.7 518173 4806 2572 127852 1961 70551 116.9 554894 4007 2827 130081 1962
"""
LONGLEY = np.array(_LONGLEY.split(), dtype=float).reshape(16, 7)


def test_longley() -> None:
    fitted = fit([np.ones(16), *LONGLEY[:, 1:].T], LONGLEY[:, 0])
    for unknown, row in enumerate(("MET-045", "MET-046", "MET-047", "MET-048", "MET-049")):
        assert fitted.x[unknown] == expected(row)
    assert fitted.x[6] == expected("MET-051")
    assert fitted.chi_square == expected("MET-053")


def test_a_line_through_the_origin() -> None:
    fitted = fit([np.arange(60.0, 71.0)], np.arange(130.0, 141.0))
    assert fitted.x[0] == expected("MET-054")
    assert deviation(fitted, 0) == expected("MET-055")


def test_wampler_s_second_polynomial() -> None:
    x = np.arange(21.0)
    wanted = [float(word) for word in ROWS["MET-058"]["expected"].split(";")]
    fitted = fit([x**power for power in range(6)], sum(b * x**power for power, b in enumerate(wanted)))
    assert fitted.x == pytest.approx(wanted, rel=1e-6, abs=0)


@pytest.mark.parametrize(
    ("y", "u", "rows"),
    [
        ([3.3, 5.6, 7.1, 9.3, 10.7, 12.1], [0.5] * 6,
         ("MET-060", "MET-061", "MET-063", "MET-064", "MET-065")),
        ([3.2, 4.3, 7.6, 8.6, 11.7, 12.8], [0.5, 0.5, 0.5, 1, 1, 1],
         ("MET-068", "MET-069", "MET-071", "", "MET-073")),
    ],
)  # fmt: skip
def test_lines_of_the_calibration_standard(y: list[float], u: list[float], rows: Sequence[str]) -> None:
    fitted = fit([np.ones(6), np.arange(1.0, 7.0)], y, u)
    assert fitted.x[0] == expected(rows[0])
    assert fitted.x[1] == expected(rows[1])
    assert np.sqrt(fitted.covariance[1, 1]) == expected(rows[2])
    if rows[3]:
        assert fitted.covariance[0, 1] == expected(rows[3])
    assert fitted.chi_square == expected(rows[4])


@pytest.mark.parametrize(
    ("y", "u", "row", "of_u", "row_of_u"),
    [
        ([3.3, 5.6, 7.1, 9.3, 10.7, 12.1], [0.5] * 6, "MET-066", 0.5, ""),
        ([3.2, 4.3, 7.6, 8.6, 11.7, 12.8], [0.5, 0.5, 0.5, 1, 1, 1], "MET-074", 1.0, "MET-075"),
    ],
)  # fmt: skip
def test_reading_such_a_line_backwards(
    y: list[float], u: list[float], row: str, of_u: float, row_of_u: str
) -> None:
    """Where the line reaches y = 10.5, and how sure that is."""
    fitted = fit([np.ones(6), np.arange(1.0, 7.0)], y, u)
    x = (10.5 - fitted.x[0]) / fitted.x[1]
    assert x == expected(row)
    if row_of_u:
        rates = np.array([-1.0, -x]) / fitted.x[1]
        assert np.hypot(of_u / fitted.x[1], fitted.uncertainty(rates)[0]) == expected(row_of_u)


def test_a_line_with_errors_in_both() -> None:
    """Where the line reaches each x is an unknown, too; made linear again and again until it stays.

    Source: ISO/TS 28037:2010, the example with errors in both, ledger rows MET-077 to MET-081.
    """
    x = np.array([1.2, 1.9, 2.9, 4.0, 4.7, 5.9])
    y = np.array([3.4, 4.4, 7.2, 8.5, 10.8, 13.5])
    u_x, u_y = np.full(6, 0.2), np.array([0.2, 0.2, 0.2, 0.4, 0.4, 0.4])
    slope, place = 2.0, x.copy()
    ones, none = np.ones(6), np.zeros(6)
    for _ in range(200):
        columns = [np.r_[none, ones], np.r_[none, place]]
        columns += [np.r_[unit, slope * unit] for unit in np.eye(6)]
        fitted = fit(columns, np.r_[x, y + slope * place], np.r_[u_x, u_y])
        moved = abs(fitted.x[1] - slope)
        slope, place = float(fitted.x[1]), fitted.x[2:8]
        if moved < 1e-12:
            break
    assert fitted.x[1] == expected("MET-077")
    assert np.sqrt(fitted.covariance[0, 0]) == expected("MET-078")
    assert fitted.covariance[0, 1] == expected("MET-080")
    assert fitted.chi_square == expected("MET-081")


# --- networks: heights and distances between points, through bodies that only move


def levels(
    fixed: dict[str, float], differences: Sequence[tuple[str, str, float]]
) -> tuple[Adjustment, dict[str, int]]:
    """A levelling net: points that go up and down only."""
    build = EquationsBuilder()
    names = list(dict.fromkeys(name for one, other, _ in differences for name in (one, other)))
    bodies = {name: build.body(name, np.zeros(3)) for name in names}
    points = {name: build.point(bodies[name], np.zeros(3)) for name in names}
    for one, other, value in differences:
        build.projection([(points[other], 1.0), (points[one], -1.0)], np.array([0, 0, 1.0]), value, 0.005)
    equations = build.done()
    held = np.ones(equations.unknowns, dtype=bool)
    start = np.zeros(equations.unknowns)
    column = {name: build.column(bodies[name], 2) for name in names}
    for name in names:
        held[column[name]] = name in fixed
        start[column[name]] = fixed.get(name, 0.0)
    return adjust(equations, held=held, start=start), column


LOOP = [
    ("1a", "4", -1.225), ("4", "3", -0.848), ("3", "2", 1.342), ("2", "1a", 0.720),
    ("1a", "2", -0.724), ("2", "3", -1.335), ("3", "4", 0.842), ("4", "1a", 1.231),
]  # fmt: skip


def test_a_levelling_loop_run_both_ways() -> None:
    adjusted, column = levels({"1a": 1000.0}, LOOP)
    assert adjusted.x[column["3"]] == expected("MET-083")
    assert adjusted.x[column["2"]] == expected("MET-084")
    assert (adjusted.residual**2).sum() * 1e6 == expected("MET-085")
    assert adjusted.unit_weight * 5 == expected("MET-086")
    assert np.sqrt(adjusted.covariance[column["4"], column["4"]]) * 1000 == expected("MET-087")
    assert adjusted.chi_square == expected("MET-090")
    assert adjusted.freedom == 5


def test_a_levelling_net_of_an_examination() -> None:
    # "B-A 8.50" is the height of B over A
    rows = [("A", "B", 8.50), ("B", "C", 4.28), ("C", "D", -6.60), ("D", "A", -5.72), ("B", "D", -2.16),
            ("A", "C", 12.91)]  # fmt: skip
    adjusted, column = levels({"A": 500.0}, rows)
    assert adjusted.x[column["C"]] == expected("MET-092")
    assert adjusted.x[column["D"]] == expected("MET-093")
    assert adjusted.unit_weight * 0.005 == expected("MET-094")


def test_a_levelling_net_without_a_benchmark_is_told_to_be_undetermined() -> None:
    adjusted, column = levels({}, LOOP)
    assert len(adjusted.undetermined) == 1
    heights = adjusted.undetermined[0][[column[name] for name in ("1a", "2", "3", "4")]]
    assert heights == pytest.approx(np.full(4, heights[0]))  # all up together: nothing sees it
    difference = np.zeros((2, len(adjusted.x)))
    difference[0, column["4"]], difference[0, column["1a"]] = 1, -1
    difference[1, column["4"]] = 1
    assert list(adjusted.determines(difference)) == [True, False]
    assert adjusted.freedom == 5


def test_trilateration_from_three_stations() -> None:
    # Source: Ghilani & Wolf, Adjustment Computations, example 14.2
    stations = [(865.40, 4527.15), (2432.55, 2047.25), (2865.22, 27.15)]
    build = EquationsBuilder()
    unknown = build.body("U", np.zeros(3))
    spot = build.point(unknown, np.zeros(3))
    for (x, y), value in zip(stations, (6049.00, 4736.83, 5446.49), strict=True):
        build.distance(spot, build.point(FIXED, np.array([x, y, 0.0])), value, 1.0)
    equations = build.done()
    held = np.array([False, False, True, True, True, True])
    start = np.array([6800.0, 3700.0, 0, 0, 0, 0])
    adjusted = adjust(equations, held=held, start=start)
    assert adjusted.x[0] == expected("MET-095")
    assert adjusted.x[1] == expected("MET-096")
    assert -adjusted.residual[0] == expected("MET-097")  # the row's v is computed less observed
    assert adjusted.unit_weight == expected("MET-100")
    assert deviation(adjusted, 0) == expected("MET-101")
    assert deviation(adjusted, 1) == expected("MET-102")
    assert adjusted.settled
