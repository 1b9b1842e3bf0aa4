"""The bench's scripts are checked for their types, wherever there is a node to do it with."""

from __future__ import annotations

import os
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT / "tools"))

import typescript  # noqa: E402  # a tool of the repository, not of the package


@pytest.fixture
def checker() -> None:
    why = typescript.lacking()
    if why:
        if os.environ.get("CI"):
            pytest.fail(why)
        pytest.skip(f"the bench's TypeScript is NOT CHECKED: {why}")


@pytest.mark.slow
@pytest.mark.usefixtures("checker")
def test_every_script_of_the_bench_is_rightly_typed() -> None:
    good, says = typescript.check()
    assert good, says


@pytest.mark.slow
@pytest.mark.usefixtures("checker")
def test_a_wrong_type_is_found(tmp_path: Path) -> None:
    (tmp_path / "tsconfig.json").write_text((ROOT / "frontend" / "tsconfig.json").read_text("utf-8"))
    (tmp_path / "src").mkdir()
    (tmp_path / "src" / "wrong.ts").write_text("export const length_mm: number = '30 cm';\n")
    good, says = typescript.check(tmp_path)
    assert not good
    assert "wrong.ts" in says


def test_without_a_node_it_says_so_and_fails_only_where_everything_must_be_checked(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(typescript, "node", lambda: None)
    monkeypatch.delenv("CI", raising=False)
    assert typescript.main() == 0
    assert "NOT CHECKED" in capsys.readouterr().err
    monkeypatch.setenv("CI", "true")
    assert typescript.main() == 1
