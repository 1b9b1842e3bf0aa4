"""The bench's pages are built once, carried wherever the program goes, and stay small."""

import gzip
import json
import os
import subprocess
import sys
import tarfile
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
DIST = ROOT / "src" / "trysquare" / "bench" / "static" / "dist"
WITHOUT_NODE = {**os.environ, "PATH": str(Path(sys.executable).parent)}

needs_pages = pytest.mark.skipif(not DIST.is_dir(), reason="the pages are not built: make setup")


def kilobytes_packed(names: list[str]) -> float:
    return sum(len(gzip.compress((DIST / name).read_bytes(), 9)) for name in names) / 1000


def asks_backend(hook: str, folder: Path, root: Path) -> str:
    """Calls a hook of the build backend in `root`, where no node is on PATH; gives what it returned."""
    code = (
        f"import trysquare_build as b; print(b.{hook}({str(folder) if hook.startswith('build') else None!r}))"
    )
    done = subprocess.run(
        [sys.executable, "-c", code],
        cwd=root,
        capture_output=True,
        text=True,
        check=False,
        env=WITHOUT_NODE | {"PYTHONPATH": str(root / "build_backend")},
    )
    assert done.returncode == 0, done.stderr
    return done.stdout.split()[-1]


@needs_pages
def test_the_scripts_of_a_page_stay_under_forty_kilobytes_packed() -> None:
    files = json.loads((DIST / "files.json").read_text("utf-8"))
    assert kilobytes_packed([*files["page"], "look.js"]) <= 40


@needs_pages
def test_the_scripts_with_the_3d_view_stay_under_two_hundred_and_twenty_kilobytes_packed() -> None:
    files = json.loads((DIST / "files.json").read_text("utf-8"))
    assert kilobytes_packed([*files["page"], *files["view"], "look.js"]) <= 220


@needs_pages
def test_the_notices_of_bundled_packages_are_kept_beside_them() -> None:
    notices = (DIST / "LICENCES.txt").read_text("utf-8")
    assert "MIT" in notices
    assert "SIL OPEN FONT LICENSE" in notices.upper()


@needs_pages
def test_built_pages_name_no_other_computer() -> None:
    for path in [*DIST.glob("*.js"), *DIST.glob("*.css")]:
        text = path.read_text("utf-8")
        # Names of XML dialects and links in error messages of the 3D library are never fetched.
        fetched = [each for each in ("//cdn", "//unpkg", "fonts.g", "@import url(http") if each in text]
        assert not fetched, path.name


def test_the_lock_of_the_pages_names_no_registry_and_checks_every_package() -> None:
    lock = json.loads((ROOT / "frontend" / "package-lock.json").read_text("utf-8"))
    packages = {name: facts for name, facts in lock["packages"].items() if name}
    assert all("integrity" in facts and "resolved" not in facts for facts in packages.values())


@needs_pages
@pytest.mark.slow
def test_a_source_archive_carries_the_pages_and_builds_a_wheel_without_node(tmp_path: Path) -> None:
    archive = tmp_path / asks_backend("build_sdist", tmp_path, ROOT)
    with tarfile.open(archive) as packed:
        assert not [name for name in packed.getnames() if "node_modules" in name]
        packed.extractall(tmp_path, filter="data")
    unpacked = tmp_path / archive.name.removesuffix(".tar.gz")
    assert (unpacked / "frontend" / "package-lock.json").is_file()
    wheel = tmp_path / asks_backend("build_wheel", tmp_path, unpacked)
    names = zipfile.ZipFile(wheel).namelist()
    assert "trysquare/bench/static/dist/bench.js" in names
    assert "trysquare/bench/static/dist/LICENCES.txt" in names
    assert not [name for name in names if "frontend" in name]


@needs_pages
def test_fresh_pages_ask_for_no_node(tmp_path: Path) -> None:
    assert asks_backend("get_requires_for_build_wheel", tmp_path, ROOT) == "[]"
