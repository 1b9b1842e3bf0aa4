"""`trysquare import` of parts lists: any table, decisions remembered, nothing overwritten unseen."""

import json
import tomllib
import zipfile
from pathlib import Path
from typing import Any

import click
import openpyxl
import pytest

from command_line import Run
from trysquare.cli import import_list
from trysquare.cli.main import main

REED = Path(__file__).resolve().parents[2] / "demo" / "reed"
LIST = "Pos,Description,Qty,Remark\n1,M3×8 BHCS,24,carriage\n2,M3 x 10,8,\n3,foot,4,\n4,M5 hex nut,2 × 100,\n"


@pytest.fixture
def listed(tmp_path: Path) -> Path:
    file = tmp_path / "parts.csv"
    file.write_text(LIST, encoding="utf-8")
    return file


def facts_of(capsys: pytest.CaptureFixture[str], *arguments: object, status: int = 0) -> dict[str, Any]:
    capsys.readouterr()
    assert main(["import", *map(str, arguments), "--json"]) == status
    facts: dict[str, Any] = json.loads(capsys.readouterr().out)
    return facts


def outcomes(facts: dict[str, Any]) -> dict[str, tuple[str, list[str], int]]:
    return {row["name"]: (row["outcome"], row["parts"], row["pieces"]) for row in facts["rows"]}


def test_a_list_becomes_a_folder_that_counts(
    listed: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    facts = facts_of(capsys, listed, tmp_path / "machine", status=1)
    assert outcomes(facts) == {
        "M3×8 BHCS": ("recognised", ["ISO 7380-1 M3x8"], 24),
        "M3 x 10": ("asked", ["m3-x-10"], 8),
        "foot": ("own", ["foot"], 4),
        "M5 hex nut": ("recognised", ["ISO 4032 M5"], 200),
    }
    for command in ("need", "check", "sort"):
        assert main([command, str(tmp_path / "machine")]) in (0, 1)
    assert main(["labels", str(tmp_path / "machine"), "--out", str(tmp_path / "labels.pdf")]) == 0


def test_a_decision_is_remembered_when_the_list_is_issued_again(
    listed: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    machine = tmp_path / "machine"
    facts_of(capsys, listed, machine, status=1)
    decided = facts_of(capsys, listed, machine, "--confirm", "M3 x 10=ISO 4762 M3x10")
    assert outcomes(decided)["M3 x 10"][:2] == ("recognised", ["ISO 4762 M3x10"])
    assert "m3-x-10" not in tomllib.loads((machine / "parts.toml").read_text())["part"]
    listed.write_text(LIST.replace(",24,", ",30,").replace("3,foot,4,", "3,arm,1,"), encoding="utf-8")
    again = facts_of(capsys, listed, machine)
    assert outcomes(again)["M3 x 10"][:2] == ("recognised", ["ISO 4762 M3x10"])
    changed = {one["part"]: (one["before"], one["after"]) for one in again["changes"]}
    assert changed == {"ISO 7380-1 M3x8": (24, 30), "arm": (None, 1), "foot": (4, None)}


def test_what_was_is_kept_and_the_difference_shown(
    listed: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    machine = tmp_path / "machine"
    facts_of(capsys, listed, machine, status=1)
    before = (machine / "list.csv").read_text()
    listed.write_text(LIST.replace(",24,", ",30,"), encoding="utf-8")
    looked = facts_of(capsys, listed, machine, "--look", status=1)
    assert looked["written"] == []
    assert (machine / "list.csv").read_text() == before
    facts = facts_of(capsys, listed, machine, status=1)
    assert (machine / "list.csv.before-1").read_text() == before
    assert any(line.startswith("-ISO 7380-1 M3x8,24") for line in facts["diffs"]["list.csv"])
    assert facts_of(capsys, listed, machine, status=1)["written"] == []


def test_an_undecided_row_is_asked_again_and_may_become_an_own_part(
    listed: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    machine = tmp_path / "machine"
    facts_of(capsys, listed, machine, status=1)
    assert outcomes(facts_of(capsys, listed, machine, status=1))["M3 x 10"][0] == "asked"
    assert outcomes(facts_of(capsys, listed, machine, "--confirm", "M3 x 10=own"))["M3 x 10"][0] == "own"
    assert outcomes(facts_of(capsys, listed, machine))["M3 x 10"] == ("own", ["m3-x-10"], 8)
    assert "Not decided" not in (machine / "parts.toml").read_text()


def test_pieces_that_cannot_be_read_are_asked_and_remembered(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    listed, machine = tmp_path / "parts.csv", tmp_path / "machine"
    listed.write_text("part,qty\nfoot,-4\narm,1\nM3x8 SHCS (pack of 50),2\n", encoding="utf-8")
    asked = facts_of(capsys, listed, machine, status=1)
    assert outcomes(asked)["foot"] == ("asked", ["foot"], 0)
    facts_of(capsys, listed, machine, "--pieces", "foot=4", "--pieces", "M3x8 SHCS (pack of 50)=100")
    assert outcomes(facts_of(capsys, listed, machine))["foot"] == ("own", ["foot"], 4)


def test_a_builders_folder_keeps_all_it_has(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    machine = tmp_path / "reed"
    machine.mkdir()
    for file in (REED / name for name in ("machine.toml", "parts.toml", "list.csv")):
        (machine / file.name).write_bytes(file.read_bytes())
    parts = (machine / "parts.toml").read_text()
    facts = facts_of(capsys, REED / "list.csv", machine)
    assert facts["changes"] == []
    assert (machine / "parts.toml").read_text() == parts
    assert (machine / "list.csv.before-1").read_bytes() == (REED / "list.csv").read_bytes()


def test_said_columns_are_remembered(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    listed, machine = tmp_path / "parts.csv", tmp_path / "machine"
    listed.write_text("thing,one,two\nfoot,4,8\narm,1,2\n", encoding="utf-8")
    refused = facts_of(capsys, listed, machine, status=2)
    assert "--columns" in refused["problems"][0]["remedy"]
    assert not machine.exists()
    facts_of(capsys, listed, machine, "--columns", "name=thing,pieces=two")
    assert outcomes(facts_of(capsys, listed, machine))["foot"] == ("own", ["foot"], 8)
    assert main(["check", str(machine)]) == 0


def workbook(file: Path) -> None:
    book = openpyxl.Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.append(["Our slider", None, None])
    sheet.append(["Group", "Description", "Qty"])
    sheet.append(["carriage", "M3×8 BHCS", 24])
    sheet.append([None, "foot", 4.0])
    sheet.append([None, "arm", "=1+1"])
    sheet.merge_cells("A3:A5")
    book.create_sheet("Notes").append(["Buy early."])
    book.save(file)


def test_a_workbook_is_read_and_a_formula_without_a_value_is_asked(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    workbook(tmp_path / "parts.xlsx")
    facts = facts_of(capsys, tmp_path / "parts.xlsx", tmp_path / "machine", status=1)
    assert outcomes(facts) == {
        "M3×8 BHCS": ("recognised", ["ISO 7380-1 M3x8"], 24),
        "foot": ("own", ["foot"], 4),
        "arm": ("asked", ["arm"], 0),
    }
    assert any("Notes" in text for text in facts["passed_over"])


NAMES = "urn:oasis:names:tc:opendocument:xmlns"
SHEET = "application/vnd.oasis.opendocument.spreadsheet"
HEAD = (
    f'<office:document-content xmlns:office="{NAMES}:office:1.0" xmlns:table="{NAMES}:table:1.0" '
    f'xmlns:text="{NAMES}:text:1.0" office:version="1.2"><office:body><office:spreadsheet>'
)
FOOT = "</office:spreadsheet></office:body></office:document-content>"
MANIFEST = (
    f'<manifest:manifest xmlns:manifest="{NAMES}:manifest:1.0">'
    f'<manifest:file-entry manifest:full-path="/" manifest:media-type="{SHEET}"/>'
    '<manifest:file-entry manifest:full-path="content.xml" manifest:media-type="text/xml"/>'
    "</manifest:manifest>"
)


def open_sheet(file: Path, *rows: tuple[str, ...], times: int = 1, across: int = 1, empty: int = 1) -> None:
    """An ODS by the standard's own rules. Source: OpenDocument 1.2, parts 1 (tables) and 3, from memory."""

    def cell(text: str) -> str:
        sort = f'"float" office:value="{text}"' if text.isdigit() else '"string"'
        repeat = f'table:number-columns-repeated="{across}"'
        return (
            f"<table:table-cell {repeat} office:value-type={sort}><text:p>{text}</text:p></table:table-cell>"
        )

    row_head = f'<table:table-row table:number-rows-repeated="{times}">'
    body = "".join(f"{row_head}{''.join(map(cell, row))}</table:table-row>" for row in rows)
    body += f'<table:table-row table:number-rows-repeated="{empty}"><table:table-cell/></table:table-row>'
    with zipfile.ZipFile(file, "w") as packed:
        packed.writestr("mimetype", SHEET)
        packed.writestr("content.xml", f'{HEAD}<table:table table:name="Parts">{body}</table:table>{FOOT}')
        packed.writestr("META-INF/manifest.xml", MANIFEST)


def test_an_open_document_sheet_is_read(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    open_sheet(tmp_path / "parts.ods", ("Bezeichnung", "Menge"), ("DIN 912 M3x8", "12"), ("foot", "4"))
    facts = facts_of(capsys, tmp_path / "parts.ods", tmp_path / "machine")
    assert outcomes(facts) == {
        "DIN 912 M3x8": ("recognised", ["ISO 4762 M3x8"], 12),
        "foot": ("own", ["foot"], 4),
    }
    assert facts["rows"][0]["where"]["line"] == 2


def test_an_open_document_sheet_that_repeats_a_cell_a_billion_times_is_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    listed = tmp_path / "parts.ods"
    open_sheet(listed, ("foot", "4"), times=1_000_000, across=1000)
    problem = facts_of(capsys, listed, tmp_path / "machine", status=2)["problems"][0]
    assert "repeats its cells" in problem["read"]


def test_the_empty_rows_that_end_every_open_document_sheet_are_no_rows(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    open_sheet(tmp_path / "parts.ods", ("part", "pieces"), ("foot", "4"), empty=1_048_574)
    facts = facts_of(capsys, tmp_path / "parts.ods", tmp_path / "machine")
    assert outcomes(facts) == {"foot": ("own", ["foot"], 4)}


@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16", "cp1252"])
def test_any_usual_encoding_is_read(
    encoding: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    listed = tmp_path / "parts.tsv"
    listed.write_bytes("Bezeichnung\tStück\nM3×8 BHCS\t24\nFüße\t4\n".encode(encoding))
    facts = facts_of(capsys, listed, tmp_path / "machine")
    assert outcomes(facts)["Füße"] == ("own", ["fusse"], 4)
    assert outcomes(facts)["M3×8 BHCS"][2] == 24


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("empty.csv", b""),
        ("blank.csv", b"\n\n ; \n"),
        ("heading.csv", b"part,pieces\n"),
        ("text.csv", b"This is a letter.\nIt has no list.\n"),
        ("picture.csv", b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR\0\0"),
        ("broken.xlsx", b"PK\x03\x04 and nothing more"),
        ("broken.ods", b"PK\x03\x04 and nothing more"),
        ("broken.xls", b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1 and nothing more"),
        ("text.ods", b"part,pieces\nfoot,4\n"),
    ],
)
def test_what_is_no_list_is_told_and_nothing_written(
    name: str, content: bytes, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / name).write_bytes(content)
    facts = facts_of(capsys, tmp_path / name, tmp_path / "machine", status=2)
    assert facts["problems"]
    assert facts["problems"][0]["remedy"]
    assert not (tmp_path / "machine").exists()


@pytest.mark.slow
def test_a_list_beyond_its_limit_is_refused(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    listed = tmp_path / "parts.csv"
    listed.write_text("part,pieces\n" + "foot,1\n" * 100_001)
    assert "at most" in facts_of(capsys, listed, tmp_path / "machine", status=2)["problems"][0]["expected"]


def test_refusals_say_what_to_do(listed: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    full = tmp_path / "full"
    full.mkdir()
    (full / "letter.txt").write_text("mine")
    for arguments, says in (
        ([tmp_path / "none.csv", tmp_path / "m"], "is not there"),
        ([tmp_path, tmp_path / "m"], "is a folder"),
        ([listed, full], "no machine folder"),
        ([listed, listed], "is a file"),
        ([full / "letter.doc", tmp_path / "m"], "is not there"),
        ([listed, tmp_path / "m", "--confirm", "M9=own"], "no row"),
        ([listed, tmp_path / "m", "--confirm", "foot=M99 thing"], "no part of this machine"),
        ([listed, tmp_path / "m", "--pieces", "foot=-1"], "whole number"),
        ([listed, tmp_path / "m", "--columns", "pices=C"], "SORT=COLUMN"),
    ):
        capsys.readouterr()
        assert main(["import", *map(str, arguments)]) == 2
        assert says in " ".join(capsys.readouterr().err.split())
        assert not (tmp_path / "m").exists()


def test_the_page_names_every_asked_row_and_how_to_decide_it(
    listed: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["import", str(listed), str(tmp_path / "machine")]) == 1
    page = " ".join(capsys.readouterr().out.split())
    assert "4 rows: 2 recognised, 1 asked, 1 own part" in page
    assert '--confirm "M3 x 10=ISO 4762 M3x10"' in page


def test_answers_at_the_terminal_decide(
    listed: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    answers = iter(["7 of them", "2"])
    monkeypatch.setattr(click, "prompt", lambda *_, **__: next(answers))
    asked = import_list.Asked()
    status = import_list.run(
        str(listed), str(tmp_path / "machine"), asked, asks=True, look=False, tell_all=False, as_json=False
    )
    assert status == 0
    names = tomllib.loads((tmp_path / "machine" / "names.toml").read_text())["names"]
    assert names == {"M3 x 10": "ISO 7380-1 M3x10"}


def test_a_member_without_a_slot_is_asked_with_the_usual_slot_first_and_stays_decided(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file, machine = tmp_path / "list.csv", tmp_path / "machine"
    file.write_text("Description,Qty\n2020 extrusion 400,4\n", encoding="utf-8")
    (row,) = facts_of(capsys, file, machine, status=1)["rows"]
    assert row["outcome"] == "asked"
    assert [one["part"] for one in row["choices"]] == ["profile 20x20 slot 6", "profile 20x20 slot 5"]
    assert "slot is not said" in row["question"]
    facts_of(capsys, file, machine, "--confirm", "2020 extrusion 400=profile 20x20 slot 5")
    part = tomllib.loads((machine / "parts.toml").read_text())["part"]["2020-extrusion-400"]
    assert (part["kind"], part["profile"], part["length_mm"]) == ("member", "profile 20x20 slot 5", 400)
    assert facts_of(capsys, file, machine)["rows"][0]["outcome"] == "own"


def test_a_list_issued_again_says_what_it_changes_in_the_machine_as_an_assembly_does(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file, machine = tmp_path / "list.csv", tmp_path / "machine"
    file.write_text("Description,Qty\n2020 extrusion 400,4\n", encoding="utf-8")
    assert facts_of(capsys, file, machine, status=1)["machine_changes"] is None
    told = facts_of(capsys, file, machine, "--confirm", "2020 extrusion 400")["machine_changes"]
    assert told["changes"][0]["id"] == "2020-extrusion-400"
    assert {"undo", "do_now", "read_again"} <= set(told)
    file.write_text("Description,Qty\n2020 extrusion 400,6\n", encoding="utf-8")
    capsys.readouterr()
    assert main(["import", str(file), str(machine), "--no-questions"]) == 0
    assert "nothing is to be redone" in capsys.readouterr().out
    file.write_text("Description,Qty\n2020 extrusion 400,5\n", encoding="utf-8")
    assert main(["import", str(file), str(machine), "--no-questions", "--built", "nowhere"]) == 2


def test_what_a_file_hides_is_told_and_not_dropped(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    book = openpyxl.Workbook()
    for row in (["Description", "Qty"], ["M3x8 BHCS", 24], ["foot", "=2*2"]):
        book.active.append(row)
    hidden = book.create_sheet("spares")
    hidden.append(["Description", "Qty"])
    hidden.sheet_state = "hidden"
    book.save(tmp_path / "list.xlsx")
    facts = facts_of(capsys, tmp_path / "list.xlsx", tmp_path / "machine", "--look", status=0)
    assert facts["hidden"] == [
        {"sheet": "spares", "is_read": False, "rows": 1, "says": facts["hidden"][0]["says"]}
    ]
    assert '--sheet "spares"' in facts["hidden"][0]["says"]
    told = " ".join(facts["passed_over"])
    assert "1 formula has no result" in told
    assert "a title or remark between the rows: foot" in told


def test_hidden_rows_columns_and_sheets_are_told_in_words_and_as_facts(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    book = openpyxl.Workbook()
    for row in (["Description", "Qty", "Rev"], ["M3x8 BHCS", 24, "a"], ["foot", 4, "b"]):
        book.active.append(row)
    book.active.row_dimensions[3].hidden = True
    book.active.column_dimensions["C"].hidden = True
    spares = book.create_sheet("spares")
    for row in (["Description", "Qty"], ["lever", 2]):
        spares.append(row)
    spares.sheet_state = "hidden"
    file = tmp_path / "list.xlsx"
    book.save(file)
    facts = facts_of(capsys, file, tmp_path / "machine", "--look", status=0)
    assert list(outcomes(facts)) == ["M3x8 BHCS", "foot"]
    assert [(one["sheet"], one["is_read"]) for one in facts["hidden"]] == [("spares", False), ("Sheet", True)]
    assert facts["hidden"][0]["rows"] == 2
    assert (facts["hidden"][1]["hidden_rows"], facts["hidden"][1]["hidden_columns"]) == ([3], ["C"])
    assert main(["import", str(file), str(tmp_path / "machine"), "--look", "--no-questions"]) == 0
    told = " ".join(capsys.readouterr().out.split())
    assert "Hidden in the file" in told
    assert "'spares' is not read: 2 rows" in told
    facts = facts_of(capsys, file, tmp_path / "machine", "--look", "--sheet", "spares", status=0)
    assert list(outcomes(facts)) == ["lever"]
    assert facts["hidden"] == []


def test_a_second_heading_and_an_open_quotation_mark_are_told(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "list.csv"
    file.write_text("Description,Qty\nM3x8 BHCS,24\nDescription,Qty\nfoot,4\n", encoding="utf-8")
    facts = facts_of(capsys, file, tmp_path / "machine", "--look", status=0)
    assert list(outcomes(facts)) == ["M3x8 BHCS", "foot"]
    assert "the heading again" in " ".join(facts["passed_over"])
    file.write_text('Description,Qty\n"M3x8 BHCS,24\nfoot,4\nplate,2\n', encoding="utf-8")
    facts = facts_of(capsys, file, tmp_path / "machine", "--look", status=1)
    assert "one cell holds 3 lines" in " ".join(facts["passed_over"])


def test_a_text_that_is_named_as_a_workbook_is_told_its_right_name(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "list.xlsx").write_text(LIST, encoding="utf-8")
    assert main(["import", str(tmp_path / "list.xlsx"), str(tmp_path / "machine")]) == 2
    assert "Name it .csv." in capsys.readouterr().err


def test_a_part_that_is_left_out_later_leaves_no_definition_behind(tmp_path: Path, run: Run) -> None:
    file, folder = tmp_path / "list.csv", tmp_path / "machine"
    file.write_text("Part,Qty\nfoam,2\nISO 4762 M3x8,8\n", "utf-8")
    run("import", file, folder)
    assert "[part.foam]" in (folder / "parts.toml").read_text("utf-8")
    run("import", file, folder, "--confirm", "foam=")
    assert "foam" not in (folder / "parts.toml").read_text("utf-8")
    assert "foam" not in (folder / "list.csv").read_text("utf-8")
