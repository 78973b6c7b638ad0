"""Who may talk to the bench: the page that it opened itself, or that a code of its door let in.

Another site's page can send requests to 127.0.0.1, so four things are asked of every request: it
names this server as its host, it comes from no other origin, it carries the session's cookie, and
calls carry a key in a header, which no other site can read or send.
"""

import hmac
import secrets
from collections.abc import Mapping
from dataclasses import dataclass, field
from http.cookies import CookieError, SimpleCookie

__all__ = ["CALL_HEADER", "LOOPBACK", "Gate"]

CALL_HEADER = "X-Bench-Key"
"""The header that carries the key of calls."""

LOOPBACK = "127.0.0.1"


def _secret() -> str:
    return secrets.token_urlsafe(32)


@dataclass(frozen=True)
class Gate:
    """The secrets of one session.

    Attributes:
        port: That the server listens at.
        host: The address that it listens at.
        ticket: In the address that is opened; exchanged for the cookie.
        session: The cookie's value.
        call_key: Told to the page, and sent back with each call.
    """

    port: int
    host: str = LOOPBACK
    ticket: str = field(default_factory=_secret)
    session: str = field(default_factory=_secret)
    call_key: str = field(default_factory=_secret)

    @property
    def address(self) -> str:
        """What the browser opens."""
        return f"{self.place}/enter/{self.ticket}"

    @property
    def place(self) -> str:
        """Where the server is."""
        return f"http://{self.host}:{self.port}"

    @property
    def cookie(self) -> str:
        """The header's value that sets the cookie."""
        return f"{self._cookie_name}={self.session}; HttpOnly; SameSite=Strict; Path=/"

    @property
    def _cookie_name(self) -> str:
        """Cookies of all ports of a host are kept together, hence the port."""
        return f"shapecut_bench_{self.port}"

    def is_ours(self, headers: Mapping[str, str]) -> bool:
        """Whether a request names this server, and was sent by no other site's page."""
        names = {self.host, "localhost"} if self.host == LOOPBACK else {self.host}
        hosts = {f"{name}:{self.port}" for name in names}
        origin = headers.get("Origin")
        return (
            headers.get("Host") in hosts
            and (origin is None or origin == f"http://{headers.get('Host')}")
            and headers.get("Sec-Fetch-Site", "none") in ("none", "same-origin")
        )

    def may_enter(self, ticket: str) -> bool:
        """Whether a ticket is this session's."""
        return hmac.compare_digest(ticket.encode(), self.ticket.encode())

    def may_read(self, headers: Mapping[str, str]) -> bool:
        """Whether a request carries the session's cookie."""
        try:
            morsel = SimpleCookie(headers.get("Cookie", "")).get(self._cookie_name)
        except CookieError:
            return False
        return morsel is not None and _same(morsel.value, self.session)

    def may_knock(self, headers: Mapping[str, str]) -> bool:
        """Whether a request may try a code: it names its origin, which `is_ours` has checked."""
        return headers.get("Origin") is not None

    def may_call(self, headers: Mapping[str, str], *, changes: bool) -> bool:
        """Whether a request may call; one that changes something must name its origin."""
        key = headers.get(CALL_HEADER, "")
        named = headers.get("Origin") is not None or not changes
        return named and self.may_read(headers) and _same(key, self.call_key)


def _same(given: str, expected: str) -> bool:
    """Compare in a time that tells nothing of how much agrees."""
    return hmac.compare_digest(given.encode(), expected.encode())
