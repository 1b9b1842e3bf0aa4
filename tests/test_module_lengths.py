"""A module reads in one sitting: how long it may be, and which may be longer, and why."""

from pathlib import Path

PACKAGE = Path(__file__).resolve().parent.parent / "src" / "trysquare"

MOST_LINES = 420
# A module that is longer: its path in the package, and the reason.
MAY_BE_LONGER: dict[str, str] = {
    "machine/fields.py": "a table: each key of the machine's files, looked up and not read through",
    "machine/values.py": "the values that all rooms share, one after another; nothing happens in it",
}


def long_modules() -> dict[str, int]:
    """The modules of the package that are longer, by their paths in it, with their lines."""
    lengths = {
        path.relative_to(PACKAGE).as_posix(): len(path.read_text("utf-8").splitlines())
        for path in PACKAGE.rglob("*.py")
    }
    return {name: length for name, length in sorted(lengths.items()) if length > MOST_LINES}


def test_a_module_reads_in_one_sitting() -> None:
    faults = [
        f"{name} has {length} lines, more than {MOST_LINES}: split it by the questions it answers."
        for name, length in long_modules().items()
        if name not in MAY_BE_LONGER
    ]
    assert not faults, "\n".join(faults)


def test_every_longer_module_with_a_reason_is_still_longer() -> None:
    assert not MAY_BE_LONGER.keys() - long_modules().keys()
