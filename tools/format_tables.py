"""Write the tables of docs/format.md anew from the keys that the reader knows.

python tools/format_tables.py            write them
python tools/format_tables.py --check    change nothing; exit status 1 if they are out of date
"""

import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT / "src"))  # the page speaks of the sources beside it, installed or not

from trysquare.machine.reference import with_tables  # noqa: E402  # after the path that leads to it


def main(arguments: list[str]) -> int:
    """Write or check the page."""
    page = ROOT / "docs" / "format.md"
    text = page.read_text(encoding="utf-8")
    fresh = with_tables(text)
    if fresh == text:
        return 0
    if "--check" in arguments:
        print("docs/format.md is out of date. Run: python tools/format_tables.py", file=sys.stderr)
        return 1
    page.write_text(fresh, encoding="utf-8")
    print("wrote docs/format.md")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
