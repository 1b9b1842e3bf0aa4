"""Draw what a command prints as an SVG, for the README: real output, not a mock-up.

    python tools/picture.py [--check]

`--check` writes nothing and exits 1 when the picture is not what the command prints now.
"""

import os
import subprocess
import sys
from html import escape
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
PICTURE = ROOT / "docs" / "pictures" / "check.svg"
COMMAND = ["check", "demo/larch", "--paper", "demo/mistakes/05-slide-in-nut-forgotten.toml"]
COLUMNS = 96
CHARACTER = (8.4, 19.0)  # width and height of one character at 14 px
MARGIN = 22
STYLE = (
    "<style>text{font:14px ui-monospace,Menlo,Consolas,'DejaVu Sans Mono',monospace;fill:#22303a;"
    "white-space:pre}.strong{font-weight:700}.asked{fill:#8a4b12}</style>"
)
STRONG = ' class="strong"'


def printed() -> list[str]:
    """The command's output, line by line."""
    finished = subprocess.run(
        [sys.executable, "-m", "trysquare.cli.main", *COMMAND],
        cwd=ROOT,
        env=dict(os.environ, COLUMNS=str(COLUMNS), PYTHONPATH=str(ROOT / "src")),
        stdout=subprocess.PIPE,
        text=True,
        check=False,
    )
    return finished.stdout.rstrip().splitlines()


def drawn(lines: list[str]) -> str:
    """The lines on paper: dark ink on a light ground, findings' first lines strong."""
    wide, high = CHARACTER
    width = round(COLUMNS * wide + 2 * MARGIN)
    height = round((len(lines) + 2) * high + 2 * MARGIN)
    rows = [
        f'<text xml:space="preserve" x="{MARGIN}" y="{MARGIN + high * (i + 3):.0f}"'
        f"{STRONG if line[:1].strip() else ''}>{escape(line)}</text>"
        for i, line in enumerate(lines)
        if line
    ]
    command = escape("$ trysquare " + " ".join(COMMAND))
    opening = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" width="{width}" '
        f'height="{height}" role="img" aria-labelledby="title">'
    )
    return "\n".join(
        [
            opening,
            '<title id="title">What trysquare check prints when the nuts of a rail were forgotten</title>',
            STYLE,
            f'<rect width="{width}" height="{height}" fill="#f6f3ec"/>',
            f'<rect x="0.5" y="0.5" width="{width - 1}" height="{height - 1}" fill="none" stroke="#b9b1a0"/>',
            f'<text class="asked" x="{MARGIN}" y="{MARGIN + high:.0f}">{command}</text>',
            *rows,
            "</svg>",
            "",
        ]
    )


def main() -> int:
    """Write the picture, or say whether it is current."""
    picture = drawn(printed())
    if "--check" in sys.argv:
        current = PICTURE.is_file() and PICTURE.read_text(encoding="utf-8") == picture
        print(
            "The picture is current." if current else "docs/pictures/check.svg is old: make docs writes it."
        )
        return 0 if current else 1
    PICTURE.parent.mkdir(exist_ok=True)
    PICTURE.write_text(picture, encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
