"""Appends to a log beside another program that does the same: own events, and some that both send.

python writing.py FOLDER NUMBER
"""

import sys
from pathlib import Path

from trysquare.record.events import Event
from trysquare.record.log import open_log

AT = "2031-05-04T08:00:00.000Z"

if __name__ == "__main__":
    folder, writer = Path(sys.argv[1]), sys.argv[2]
    with open_log(folder, machine="Small frame") as log:
        for number in range(40):
            names = (f"own-{writer}-{number}", f"shared-{number}")
            log.append([Event(id=name, kind="note", at=AT, device="x", data={"says": "x"}) for name in names])
