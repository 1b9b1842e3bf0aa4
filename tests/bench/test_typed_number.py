"""Numbers as they are typed: with a comma, with their unit, with another; the pages and the bench alike."""

from __future__ import annotations

import json
import math
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from bench.asking import Browser, event
from trysquare.bench import typed_number as module
from trysquare.bench.bench import Bench
from trysquare.bench.tuning_tools import NUMBER, Asked, Form, NotSoError, Question, arguments
from trysquare.bench.typed_number import NOT_A_NUMBER, typed_number

ROOT = Path(__file__).parents[2]
sys.path.insert(0, str(ROOT / "tools"))

import typescript  # noqa: E402  # a tool of the repository, not of the package

FIELDS = ("mm", "mm/100", "newton", "ohm", "mm/m", "°", "g", "Hz", "s", "%", "turns", "")
TEXTS = (
    "", "  ", "0,05", "0.05", ".5", "5.", "-0,2", "−0.2", "–0.2", "+3", "1 000,5", "0.05mm", "0,05 mm",
    "0.05  MM", "2 thou", "0.002 in", '0.002"', "0.002″", "50 µm", "50 \u03bcm", "50 um", "0.05 mm/100",
    "0.05 mm per 100 mm", "0.5 mm/m", "500 µm/m", "0.05 °", "0.05 deg", "1 mrad", "89.9 °", "95 °",
    "12 N", "12 newton", "1.2 kgf", "200 gf", "2 lbf", "5 ozf", "3 ohm", "3 Ω", "3 \u2126", "4 mΩ",
    "0.1 kΩ", "12 g", "0.2 kg", "110 Hz", "0.11 kHz", "90 s", "1.5 min", "3 parsec", "3 constructor",
    "3 toString", "3 __proto__", "mm", "abc", "1/2 in", "1.000,5", "1,2,3", "1e-3", "1e3 mm", "--1",
    "- 1", "0 mm", "-0 in", "nan", "inf", "5 %", "3 turns", "3 " + "x" * 60, "1" * 400, "5 mm mm", "٣ mm",
)  # fmt: skip


@pytest.mark.parametrize(
    ("text", "unit", "value"),
    [("0,05 mm", "mm", 0.05), ("0.05mm", "mm", 0.05), ("0,05", "mm", 0.05), ("50 µm", "mm", 0.05),
     ("0.05 mm per 100 mm", "mm/100", 0.05), ("0.5 mm/m", "mm/100", 0.05), ("12 N", "newton", 12.0),
     ("3 ohm", "ohm", 3.0), ("−0,2", "mm", -0.2), ("0.12 kHz", "Hz", 120.0), ("5 %", "%", 5.0)],
)  # fmt: skip
def test_a_number_may_carry_its_fields_unit_or_one_that_says_the_same_thing(
    text: str, unit: str, value: float
) -> None:
    assert typed_number(text, unit).value == pytest.approx(value, rel=1e-12)


def test_inches_pounds_and_degrees_are_what_their_definitions_say() -> None:
    # Source: from memory: inch 25.4 mm and pound 0.45359237 kg (yard and pound agreement of 1959), standard
    # gravity 9.80665 m/s² (3rd CGPM, 1901); an inch has a thousand thou, a pound sixteen ounces.
    assert typed_number("1 in", "mm").value == 25.4
    assert typed_number("2 thou", "mm").value == 0.0508
    assert typed_number("1 kgf", "newton").value == 9.80665
    assert typed_number("1 lbf", "newton").value == pytest.approx(0.45359237 * 9.80665, rel=1e-9)
    assert typed_number("16 ozf", "newton").value == typed_number("1 lbf", "newton").value
    assert typed_number("45 °", "mm/100").value == pytest.approx(100 * math.tan(math.pi / 4), rel=1e-9)


def test_another_unit_is_said_back_and_the_fields_own_is_not() -> None:
    assert typed_number(" 2 thou ", "mm").converted == "2 thou"
    assert typed_number("0,05 mm", "mm").converted == ""
    assert typed_number("12 N", "newton").converted == ""


@pytest.mark.parametrize(
    ("text", "unit", "says"),
    [("0.05 N", "mm", "“N” is a force; this field is in mm."),
     ("0.05 mm", "mm/100", "“mm” is a length; this field is in mm per 100 mm."),
     ("3 furlong", "mm", "“furlong” is no unit known here; this field is in mm."),
     ("0.2 kg", "newton", "“kg” is a mass; this field is in N."),
     ("3 Hz", "", "“Hz” is a frequency; here goes a number alone."),
     ("1.000,5", "mm", NOT_A_NUMBER), ("1/2 in", "mm", NOT_A_NUMBER), ("abc", "mm", NOT_A_NUMBER)],
)  # fmt: skip
def test_a_unit_that_does_not_fit_is_refused_in_words_that_say_what_does(
    text: str, unit: str, says: str
) -> None:
    typed = typed_number(text, unit)
    assert typed.value is None
    assert typed.says.startswith(says)


def test_the_pages_script_reads_every_number_as_the_bench_does(tmp_path: Path) -> None:
    node, bundler = typescript.node(), ROOT / "frontend" / "node_modules" / ".bin" / "esbuild"
    if node is None or not bundler.exists():
        if os.environ.get("CI"):
            pytest.fail("no node to run the pages' script with")
        pytest.skip("no node here: that the page reads numbers as the bench does is NOT CHECKED")
    texts = [*TEXTS, *(f"1,25 {unit}" for unit in module._QUANTITY)]
    cases = [(text, unit) for text in texts for unit in FIELDS]
    script = tmp_path / "number.mjs"
    subprocess.run(
        [str(bundler), str(ROOT / "frontend" / "src" / "number.ts"), "--format=esm", f"--outfile={script}"],
        check=True, capture_output=True,
    )  # fmt: skip
    (tmp_path / "cases.json").write_text(json.dumps(cases), "utf-8")
    (tmp_path / "run.mjs").write_text(
        'import { readFileSync } from "node:fs";\nimport { typedNumber } from "./number.mjs";\n'
        'const cases = JSON.parse(readFileSync("cases.json", "utf8"));\n'
        "console.log(JSON.stringify(cases.map(([text, unit]) => typedNumber(text, unit))));\n",
        "utf-8",
    )
    said = subprocess.run([node, "run.mjs"], cwd=tmp_path, check=True, capture_output=True)
    for (text, unit), page in zip(cases, json.loads(said.stdout), strict=True):
        bench = typed_number(text, unit)
        assert page == {"value": bench.value, "says": bench.says, "converted": bench.converted}, (text, unit)


def test_a_reading_posted_as_it_was_typed_is_kept_in_its_unit(reed: tuple[Bench, Browser]) -> None:
    bench, computer = reed
    typed: dict[str, Any] = {"of": "rail-parallel", "value": "2 thou", "unit": "mm"}
    assert computer.say(event("reading", "rail-true", **typed)).status_code == 200
    (reading,) = bench.desk.state.readings["rail-true", "rail-parallel"]
    assert (reading.value, reading.note) == (0.0508, "written as 2 thou")
    answer = computer.say(event("reading", "rail-true", **{**typed, "value": "2 N"}))
    assert answer.status_code == 400
    assert "“N” is a force; this field is in mm." in answer.json()["says"]
    assert len(bench.desk.state.readings["rail-true", "rail-parallel"]) == 1


def test_a_tuning_field_takes_its_unit_and_says_which_does_not_fit() -> None:
    span = Question(option="--span", label="Span", kind=NUMBER, unit="mm")
    form = Form(what="belt", title="Belts", learns="", sort="", draws=False, inputs=(), questions=(span,))
    for text, given in (("150,5 mm", "150.5"), ("15 cm", "150"), ("1e2", "1e2"), ("so", "so")):
        assert arguments(form, Asked(fields={"span": text}), {})[1] == f"--span={given}"
    with pytest.raises(NotSoError, match="Span: “kg” is a mass; this field is in mm"):
        arguments(form, Asked(fields={"span": "150 kg"}), {})
