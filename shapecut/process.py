"""The program as a process: how it stops when asked to, and what it spares itself."""

import atexit
import gc
import os
import signal
import sys

__all__ = ["hear_requests_to_stop", "search_rarely_for_cycles", "use_one_thread_for_matrices"]

OBJECTS_BETWEEN_SEARCHES = 50_000
"""So many new objects make Python search for cycles; its own number is 700."""

STOPPING = [signal.SIGTERM, *([signal.SIGHUP] if hasattr(signal, "SIGHUP") else [])]
"""Signals that ask to stop; nohup has the second one ignored."""


def stop_cleanly(signal_number: int, _: object) -> None:
    """Unwind on a request to stop, so that drafts are removed; exits as a shell expects."""
    for asked in STOPPING:
        signal.signal(asked, signal.SIG_IGN)  # asked twice, it would stop in the midst of clearing
    sys.exit(128 + signal_number)


def hear_requests_to_stop() -> None:
    """Stop cleanly when asked to or when the terminal is closed, unless that is not to be heard."""
    for asked in STOPPING:
        if signal.getsignal(asked) is not signal.SIG_IGN:
            signal.signal(asked, stop_cleanly)


def use_one_thread_for_matrices() -> None:
    """Keep numpy's OpenBLAS from starting threads, unless the user asks for them.

    Our matrices are small: its threads would only wait, and busily, on processors that the
    photographs are worked on with.  Heard only before numpy is imported.
    """
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")


def search_rarely_for_cycles() -> None:
    """Leave out searches that find nothing: what the libraries bring along stays to the end.

    They would take a sixth of the time of importing, and as much again at the end of the program.
    """
    gc.set_threshold(OBJECTS_BETWEEN_SEARCHES)
    atexit.register(gc.freeze)
