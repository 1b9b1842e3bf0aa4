"""A sign-off has a name: on the step, in the list, in the log's text and export, in the as-built sheet."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

import pytest

from bench.asking import Browser, event, opened
from bench.conftest import computed, without_answers
from publish.paper import text_of
from trysquare.bench.bench import Bench
from trysquare.cli.main import main
from trysquare.cli.true_built import sheet_of
from trysquare.machine.load import load_machine
from trysquare.publish.book import book_pdf
from trysquare.publish.known import known_of

DEMO = Path(__file__).parents[2] / "demo" / "reed-joints"
WORDS = "The carriage runs by one finger from stop to stop; keep the others out of the gap."


@pytest.fixture
def signing(tmp_path: Path) -> Iterator[tuple[Bench, Browser]]:
    """Reed with a sign-off in its last step."""
    folder = without_answers(DEMO, tmp_path / "reed")
    steps = (folder / "steps.toml").read_text("utf-8")
    assert f'{{ check = ["{WORDS}"] }}' in steps
    (folder / "steps.toml").write_text(
        steps.replace(f'{{ check = ["{WORDS}"', f'{{ sign-off = ["{WORDS}"'), "utf-8"
    )
    bench, browser = opened(computed(folder))
    yield bench, browser
    if bench.truing is not None:
        bench.truing.close()
    bench.desk.close()


@pytest.mark.slow
def test_who_signed_stands_wherever_the_sign_off_does(
    signing: tuple[Bench, Browser], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    bench, computer = signing
    page = bench.workshop.shown.page("run")
    assert page is not None
    item = next(one.item for one in page.must if one.sort == "sign-off")
    computer.say(event("left-open", "run", item=item, sort="sign-off", reason="nobody is here", who="Ada"))
    left = computer.get("/open").text
    assert f'data-sign="{item}"' in left  # signed with a name, never ticked off
    assert 'data-say="settled"' not in left
    assert "Ada" in left
    computer.say(event("settled", "run", item=item, who="Grace & Co"))
    assert "by Grace &amp; Co" in computer.get("/step/run").text
    assert "signed by Grace &amp; Co" in computer.get("/open").text
    folder = str(bench.folder)
    main(["log", folder])
    assert "Grace & Co · The carriage runs by one finger" in capsys.readouterr().out
    main(["log", folder, "--json"])
    assert [one["who"] for one in json.loads(capsys.readouterr().out)["signed"]] == ["Grace & Co"]
    assert main(["log", "export", folder, str(tmp_path / "log.jsonl")]) == 0
    lines = [json.loads(line) for line in (tmp_path / "log.jsonl").read_text("utf-8").splitlines()]
    assert "Grace & Co" in [line["data"].get("who") for line in lines if line.get("kind") == "settled"]
    machine = load_machine(bench.folder)
    built, signed = sheet_of(machine)
    text = text_of(book_pdf(known_of(machine), "a4", built=built, signed=signed).pdf)
    sheet = text[text.index("Signed off") :]
    assert "Grace & Co" in sheet
    assert "2031-05-04" in sheet
