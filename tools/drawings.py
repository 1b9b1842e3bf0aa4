"""Draw the pictures of docs/ with our own drawing commands, on the demo machines.

    python tools/drawings.py [--check]

`--check` writes nothing and exits 1 when a picture is not what the commands draw now.
"""

import os
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
PICTURES = ROOT / "docs" / "pictures"
# Each picture and the command that draws it; its file comes last.
DRAWN: dict[str, list[str]] = {
    "reed-ends.svg": ["draw", "demo/reed-joints", "ends", "--out"],
    "reed-nuts.svg": ["draw", "demo/reed-joints", "nuts", "--out"],
    "larch-base-nuts.svg": ["draw", "demo/larch", "base-nuts", "--out"],
    "larch-carry.svg": ["draw", "demo/larch", "carry", "--out"],
    "larch-y-rails.svg": ["draw", "demo/larch", "y-rails", "--out"],
    "larch-true.svg": ["true", "demo/larch", "--plot"],
}


def drawn(name: str, folder: Path) -> str:
    """The picture as its command draws it now."""
    made = folder / name
    finished = subprocess.run(
        [sys.executable, "-m", "trysquare.cli.main", *DRAWN[name], str(made)],
        cwd=ROOT,
        env=dict(os.environ, PYTHONPATH=str(ROOT / "src")),
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
        text=True,
        check=False,
    )
    if finished.returncode not in {0, 1}:  # 1: the frame of the demo is not true yet, and that is drawn
        sys.exit(f"docs/pictures/{name}: {finished.stderr}")
    # Lines end as the formatter of everything else ends them, once.
    return made.read_text(encoding="utf-8").rstrip("\n") + "\n"


def main() -> int:
    """Write the pictures, or say which are old."""
    old = []
    with tempfile.TemporaryDirectory() as folder:
        for name in DRAWN:
            picture, place = drawn(name, Path(folder)), PICTURES / name
            if place.is_file() and place.read_text(encoding="utf-8") == picture:
                continue
            old.append(name)
            if "--check" not in sys.argv:
                place.write_text(picture, encoding="utf-8")
    if "--check" in sys.argv and old:
        print(f"Old in docs/pictures: {', '.join(old)}; make docs draws them.")
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
