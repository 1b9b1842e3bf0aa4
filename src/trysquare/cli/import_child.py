"""Reads a CAD file in a child process with limits: when the CAD kernel crashes, only the child is lost.

The child is this module run as a program. It tells what it is doing on its output, and leaves what it read
in a file that the parent named.
"""

from __future__ import annotations

import gc
import os
import pickle
import subprocess
import sys
import tempfile
import threading
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from trysquare.ground.errors import ReadingError, Where
from trysquare.intake.bodies import Assembly
from trysquare.intake.limits import MEGABYTE
from trysquare.intake.step_scan import first_missing

LEAST_MEMORY_MB = 3000  # the kernel's libraries alone map most of a gigabyte
MEMORY_TIMES_FILE = 60  # a STEP file takes 15 to 30 times its size; a third more is a file gone wrong
LEAST_SECONDS = 120.0
SECONDS_A_MEGABYTE = 6.0  # an old laptop reads a megabyte of STEP in about two
TELLS = "doing: "
_SMALLER = "Export one sub-assembly a file, or leave out parts that are not yours to build."
_OTHER_PROGRAM = "Open and save it with another CAD program, or export it as AP214; then try again."


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """What the child may take. Memory is limited where the system can do it (not on Windows)."""

    memory_mb: float
    seconds: float


def limits_for(size_bytes: int) -> Limits:
    """Generous limits for a file of this size: only what has gone wrong meets them."""
    size_mb = size_bytes / MEGABYTE
    return Limits(
        memory_mb=LEAST_MEMORY_MB + MEMORY_TIMES_FILE * size_mb,
        seconds=LEAST_SECONDS + SECONDS_A_MEGABYTE * size_mb,
    )


def read_in_child(
    path: Path, limits: Limits | None = None, say: Callable[[str], None] = lambda _text: None
) -> Assembly:
    """What `cad_file.read_cad` reads, by a child process. Raises ReadingError also for a crash, too much
    memory and too long a time. `say` is told what is being done."""
    from trysquare.intake.cad_file import checked_kind

    checked_kind(path)  # what can be told without a child is told at once
    limits = limits or limits_for(path.stat().st_size)
    with tempfile.TemporaryDirectory(prefix="trysquare-") as folder:
        answer = Path(folder) / "answer"
        child = subprocess.Popen(
            [
                sys.executable,
                "-m",
                "trysquare.cli.import_child",
                str(path),
                str(answer),
                str(limits.memory_mb),
            ],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            env={**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)},
        )
        late = threading.Event()

        def end() -> None:
            late.set()
            child.kill()

        timer = threading.Timer(limits.seconds, end)
        timer.daemon = True
        timer.start()
        try:
            assert child.stdout is not None  # it was asked for
            with child.stdout:
                for line in child.stdout:
                    text = line.decode("utf-8", "replace").strip()
                    if text.startswith(TELLS):
                        say(text.removeprefix(TELLS))
            code = child.wait()
        finally:
            timer.cancel()
            if child.poll() is None:
                child.kill()
                child.wait()
        return _answer(path, answer, code, limits, late=late.is_set())


def _answer(path: Path, answer: Path, code: int, limits: Limits, *, late: bool) -> Assembly:
    where = Where(file=path.name)
    if answer.is_file():
        # written by our own child, in a folder that only this user can open
        kind, *rest = pickle.loads(answer.read_bytes())
        if kind == "assembly" and isinstance(rest[0], Assembly):
            gc.freeze()  # it stays to the end: no use in looking through it for rubbish again and again
            return rest[0]
        if kind == "error":
            raise ReadingError(where=where, read=rest[0], expected=rest[1], remedy=rest[2])
        if kind == "memory":
            raise ReadingError(
                where=where, read=f"more than fits in {limits.memory_mb / 1000:.0f} GB of memory",
                expected="a file that can be read with that", remedy=_SMALLER,
            )  # fmt: skip
        if kind == "missing":
            raise (ModuleNotFoundError if rest[2] else ImportError)(rest[1], name=rest[0])
    if late:
        raise ReadingError(
            where=where, read=f"no end after {limits.seconds:.0f} seconds",
            expected="a file that can be read in that", remedy=_SMALLER,
        )  # fmt: skip
    missing = first_missing(path)
    if missing is not None:
        raise ReadingError(
            where=Where(file=path.name, line=missing.line),
            read=f"#{missing.number}, which the file does not have",
            expected=f"every line that is named ({missing.count} are missing; the CAD kernel crashed on it)",
            remedy="The file is damaged: copy, download or export it again.",
        )
    raise ReadingError(
        where=where, read=f"a file on which the CAD kernel crashed ({_how(code)})",
        expected=f"a file that it can read, with at most {limits.memory_mb / 1000:.0f} GB of memory",
        remedy=_OTHER_PROGRAM,
    )  # fmt: skip


def _how(code: int) -> str:
    import signal

    if code >= 0:
        return f"exit {code}"
    try:
        return signal.Signals(-code).name
    except ValueError:
        return f"signal {-code}"


def main(arguments: list[str]) -> int:
    """The child: reads the file, leaves the answer. Arguments: file, answer, memory in MB."""
    path, answer, memory_mb = Path(arguments[0]), Path(arguments[1]), float(arguments[2])
    limit_memory(memory_mb)
    gc.disable()  # nothing here goes in circles, and the kernel's many small values would be looked through

    def say(text: str) -> None:
        print(f"{TELLS}{text}", flush=True)

    kept: list[object] = []
    said: tuple[object, ...]
    try:
        from trysquare.intake.cad_file import read_cad

        said = ("assembly", read_cad(path, say, kept))
    except ImportError as error:
        said = ("missing", error.name or "", str(error), isinstance(error, ModuleNotFoundError))
    except ReadingError as error:
        said = ("error", error.read, error.expected, error.remedy)
    except MemoryError:
        said = ("memory",)
    say("handing over")
    whole = answer.with_suffix(".part")
    whole.write_bytes(pickle.dumps(said, protocol=pickle.HIGHEST_PROTOCOL))
    whole.replace(answer)
    # the kernel takes seconds to free what ends with the process anyway, and may crash at it
    sys.stdout.flush()
    os._exit(0)


def limit_memory(memory_mb: float) -> None:
    """Limits this process's memory where the system has such limits."""
    try:
        import resource
    except ImportError:  # Windows
        return
    most = int(memory_mb * MEGABYTE)
    _soft, hard = resource.getrlimit(resource.RLIMIT_AS)
    if hard != resource.RLIM_INFINITY:
        most = min(most, hard)
    resource.setrlimit(resource.RLIMIT_AS, (most, hard))


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
