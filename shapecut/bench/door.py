"""The door for other devices of the local network: a code shown in the terminal lets one in.

A code is short, so guessing is slow: it lets one device in, is void after a few minutes or a few
wrong tries, and tries are answered one after the other, each after a pause.
"""

import hmac
import secrets
import time
from collections.abc import Callable
from dataclasses import dataclass
from threading import Lock

__all__ = ["CODE_LENGTH", "Door"]

LETTERS = "23456789ABCDEFGHJKMNPQRSTUVWXYZ"
"""None of them is mistaken for another."""

CODE_LENGTH = 6
"""Letters of a code: 31^6, nearly 900 million codes."""

LASTS_S = 600.0
TRIES = 5
PAUSE_S = 1.0
"""Between two tries, whoever makes them."""

NEW_CODE_S = 30.0
"""A void code is followed by a new one no sooner."""


@dataclass
class _Code:
    text: str
    made_at: float
    tries_left: int = TRIES


class Door:
    """Lets devices in by codes."""

    def __init__(
        self,
        announce: Callable[[str], object],
        *,
        clock: Callable[[], float] = time.monotonic,
        pause: Callable[[float], None] = time.sleep,
    ) -> None:
        """Make the first code.

        Args:
            announce: Shows a code to the person at the terminal.
            clock: Tells seconds.
            pause: Waits so many seconds.
        """
        self._announce, self._clock, self._pause = announce, clock, pause
        self._lock = Lock()
        self._code = self._new()

    def knock(self) -> None:
        """Someone stands at the door: if the code is void, there is a new one."""
        with self._lock:
            age = self._clock() - self._code.made_at
            if not self._holds() and age >= NEW_CODE_S:
                self._code = self._new()

    def opens(self, given: str) -> bool:
        """Whether a code lets in; it does so once."""
        text = "".join(given.upper().split())[: 2 * CODE_LENGTH]
        with self._lock:
            self._pause(PAUSE_S)
            if not self._holds():
                return False
            self._code.tries_left -= 1
            if not hmac.compare_digest(text.encode(), self._code.text.encode()):
                return False
            self._code.tries_left = 0
            return True

    def _holds(self) -> bool:
        code = self._code
        return code.tries_left > 0 and self._clock() - code.made_at < LASTS_S

    def _new(self) -> _Code:
        text = "".join(secrets.choice(LETTERS) for _ in range(CODE_LENGTH))
        self._announce(f"{text[:3]} {text[3:]}")
        return _Code(text, self._clock())
