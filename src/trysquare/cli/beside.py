"""Work done in a process of its own beside ours, where the computer has room for it."""

from __future__ import annotations

import multiprocessing
import os
import pickle
import warnings
from collections.abc import Callable
from multiprocessing.connection import Connection
from typing import TypeVar

T = TypeVar("T")


def beside(action: Callable[[], T]) -> Callable[[], T]:
    """Starts the action; what is returned waits for its answer. What the action changes stays in the other
    process: all that counts must be in its answer.

    Where there is one core, where processes cannot be forked off, and when the other process fails, the
    action is done here when its answer is asked for; then it raises here what it raises.
    """
    if (os.cpu_count() or 1) < 2 or "fork" not in multiprocessing.get_all_start_methods():
        return action
    context = multiprocessing.get_context("fork")
    ours, theirs = context.Pipe(duplex=False)
    process = context.Process(target=_answer, args=(action, theirs), daemon=True)
    try:
        # Python warns of forks beside threads; ours hold none of the locks that the child needs.
        with warnings.catch_warnings(action="ignore", category=DeprecationWarning):
            process.start()
    except OSError:  # no more processes, or no more memory
        return action
    finally:
        theirs.close()

    def asked() -> T:
        try:
            answer: T = pickle.loads(ours.recv_bytes())
        except (EOFError, OSError, pickle.UnpicklingError):
            return action()
        finally:
            ours.close()
            process.join()
        return answer

    return asked


def _answer(action: Callable[[], object], to: Connection) -> None:
    """In the other process: the answer through the pipe, or nothing."""
    try:
        content = pickle.dumps(action(), protocol=pickle.HIGHEST_PROTOCOL)
    except Exception:  # noqa: BLE001  # whatever it is, it is raised again where it can be told
        return
    to.send_bytes(content)
