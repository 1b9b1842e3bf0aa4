"""Write the pages of docs/ that are derived from the program itself.

python tools/docs.py            write them
python tools/docs.py --check    change nothing; exit status 1 if a page is out of date
"""

import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT / "src"))  # these pages speak of the sources beside them, installed or not

from trysquare.cli.docs import main  # noqa: E402  # after the path that leads to it

if __name__ == "__main__":
    sys.exit(main(sys.argv[1:], ROOT))
