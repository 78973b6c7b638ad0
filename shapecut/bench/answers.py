"""How the bench answers: what every answer says to the browser, and how a refusal comes through."""

import json
from collections.abc import Mapping
from http import HTTPStatus
from http.server import BaseHTTPRequestHandler
from typing import Any
from urllib.parse import quote

__all__ = ["KINDS", "Answering"]

DRAINED = 1024 * 1024
"""So much of a refused body is read, so that the answer is seen before the connection closes."""

KINDS = {
    ".html": "text/html; charset=utf-8",
    ".css": "text/css; charset=utf-8",
    ".js": "text/javascript; charset=utf-8",
    ".svg": "image/svg+xml",
}
"""Content types of the page's files by their endings."""

HEADERS = {
    "Content-Security-Policy": "default-src 'none'; script-src 'self'; style-src 'self'; "
    "img-src 'self'; connect-src 'self'; base-uri 'none'; form-action 'none'; "
    "frame-ancestors 'none'",
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cache-Control": "no-store",
}


class Answering(BaseHTTPRequestHandler):
    """Answers requests; of this machine nothing is told but what the page needs."""

    server_version = "bench"
    sys_version = ""
    protocol_version = "HTTP/1.1"
    disable_nagle_algorithm = True  # an answer's body does not wait for its headers to arrive

    def log_message(self, format: str, *args: Any) -> None:  # noqa: A002
        """Requests are not logged: their addresses hold the ticket."""

    def send_values(
        self, status: HTTPStatus, values: dict[str, Any], headers: Mapping[str, str] | None = None
    ) -> None:
        """Answer with JSON."""
        data = json.dumps(values, allow_nan=False).encode()
        self.send(status, data, {"Content-Type": "application/json", **(headers or {})})

    def send(self, status: HTTPStatus, data: bytes, headers: Mapping[str, str]) -> None:
        """Answer."""
        self.send_response(status)
        for name, value in {**HEADERS, **headers, "Content-Length": str(len(data))}.items():
            self.send_header(name, value)
        if self.close_connection:
            self.send_header("Connection", "close")
        self.end_headers()
        self.wfile.write(data)

    def send_paper(self, data: bytes, name: str) -> None:
        """Answer with a paper, which is always saved, never opened within the bench."""
        saved = f"attachment; filename*=UTF-8''{quote(name)}"
        headers = {"Content-Type": "application/octet-stream", "Content-Disposition": saved}
        self.send(HTTPStatus.OK, data, headers)

    def drain(self) -> None:
        """Read what a refused client still sends, a little and not for long."""
        self.connection.settimeout(0.5)
        left = DRAINED
        try:
            while left > 0 and (part := self.rfile.read1(65536)):
                left -= len(part)
        except OSError:
            return
