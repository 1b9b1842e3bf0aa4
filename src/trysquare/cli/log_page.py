"""The page on the build log: what is in the file, what each kind of entry means, how to check it."""

from __future__ import annotations

from trysquare.record.kinds import FIELD_SORTS, kinds
from trysquare.record.log import FILE_NAME
from trysquare.record.schema import MIGRATIONS

_HEAD = f"""# The build log

What is done, read and decided at the bench is added to `{FILE_NAME}` in the machine folder, an SQLite file
that any SQLite browser opens. Nothing in it is ever changed or taken out: undoing is an entry too. What the
build looks like now is replayed from the entries each time, so a log says tomorrow what it says today.
Written by `make docs`.

```sh
trysquare log my-machine                        # what is done, what it took, what stands open
trysquare log verify my-machine                 # is it still what was written
trysquare log export my-machine log.jsonl       # take it along, one entry a line
trysquare log take-in other-machine log.jsonl   # join it to another copy
trysquare log undo my-machine 12                # take entry 12 back
```

## What you can rely on

- **An entry that was acknowledged is on the disk.** Each batch is one transaction, whole or not at all, and
  is brought to the disk before it is acknowledged (SQLite, write-ahead, `synchronous = FULL`). When the
  disk is full or the folder cannot be written, nothing is kept, that is said, and whoever sent it keeps it
  and sends it again.
- **Sent twice, logged once.** Each entry has an id of its own, made by the device.
- **The order is that of the numbers**, which have no gaps. A device's clock is kept as it stands, beside
  the log's own time; a clock that jumps changes no order, and time spent is counted so that a jump adds or
  loses next to none.
- **Two devices at once are both kept.** When they say different things without knowing of each other, the
  later entry holds, and the contradiction is listed until somebody who knows of both says otherwise.
- **A newer Trysquare brings an older log forward**, in one transaction a step, and keeps the old file
  beside it (`log-before-2.sqlite`). An older Trysquare only reads a newer log.
- **Photos and files** lie in `log-files/` under the SHA-256 of their content and are never written over.

What it cannot do: tell that the newest entries were cut off, unless you noted the last one (`trysquare log
verify` tells it; `--noted` looks for it). Nor can it tell a log that somebody has written anew from end to
end.

## Checking it without Trysquare

Each entry carries a hash: the SHA-256 of the hash before it (for the first one 64 zeros), followed by the
entry as one line of JSON in UTF-8, keys sorted, no blanks, `"hash":""` in the place of its own hash. The
lines of an export are just these lines, with the hash filled in; the first line of the file says how many
there are and for which machine. Times are UTC. `seen` is the last entry that the device knew when it spoke.

## When it is damaged

`trysquare log verify` names every entry that is not what was written. `trysquare log export` writes out
everything that can still be read. Move the damaged file away, keep it, and `trysquare log take-in` begins a
new log with the export.
"""


def log_page() -> str:
    """The page, with the tables of kinds and of steps forward as the program has them."""
    parts = [
        _HEAD,
        "## Kinds of entries\n",
        "A field with `?` may be left out.\n",
        "| kind | fields | means |",
    ]
    parts.append("|---|---|---|")
    for kind in kinds().values():
        step = ["step"] if kind.needs_step else []
        fields = [f"{one.name}{'?' if one.may_miss else ''}" for one in kind.fields.values()]
        parts.append(
            f"| `{kind.name}` | {', '.join(f'`{one}`' for one in [*step, *fields])} | {kind.means} |"
        )
    used = {one.sort for kind in kinds().values() for one in kind.fields.values()}
    parts += ["\n## Fields\n", "| field of | holds | in |", "|---|---|---|"]
    for name, sort in FIELD_SORTS.items():
        if name in used:
            where = sorted(
                {one.name for kind in kinds().values() for one in kind.fields.values() if one.sort == name}
            )
            parts.append(f"| {name} | {sort.says} | {', '.join(f'`{one}`' for one in where)} |")
    parts += ["\n## Versions of the file\n", *(f"{one.number}. {one.says}" for one in MIGRATIONS)]
    return "\n".join(parts) + "\n"
