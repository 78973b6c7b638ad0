"""The bench's server: at one address, every request through the gate, sizes and times limited."""

import json
import sys
import traceback
from collections.abc import Iterator
from contextlib import contextmanager
from http import HTTPStatus
from http.server import ThreadingHTTPServer
from importlib.resources import files
from threading import BoundedSemaphore, Condition
from typing import Any
from urllib.parse import parse_qs

from shapecut.bench.answers import KINDS, Answering
from shapecut.bench.bench import Bench
from shapecut.bench.bodies import RefusedError, Uploads, body, stated_length
from shapecut.bench.door import Door
from shapecut.bench.gate import LOOPBACK, Gate
from shapecut.bench.photo_files import LARGEST_PHOTO
from shapecut.errors import ShapecutError, UsageError

__all__ = ["BenchServer"]

LARGEST_BODY = 64 * 1024
"""Bytes of a call."""

MOST_CLIENTS = 64
"""Connections that are served at once; a browser has six."""

AT_THE_DOOR = ("door.js", "bench.css", "bench.svg")
"""Of the page, what a device is given that was not let in yet."""

CLOSED = "Open the address that the terminal shows."

SILENCE_S = 20.0
"""A connection that says nothing for so long is closed."""

CLOSING_S = 5.0
"""So long what is being served may take when the server is closed."""

BODY_S = 20.0
"""Within this time a call's body must have come."""

MOST_CARDS = 40
"""Cards of one file."""

KEY_MARK = "{{call-key}}"
"""Stands in the page where the key of calls goes."""


class BenchServer(ThreadingHTTPServer):
    """Serves one folder at one address.

    Attributes:
        bench: The folder.
        gate: Who may talk to it.
        door: Lets other devices in by a code; without one only the gate's ticket does.
    """

    daemon_threads = True
    request_queue_size = 64

    def __init__(self, bench: Bench, port: int = 0, *, host: str = LOOPBACK) -> None:
        """Listen at a port, or at any free one for 0.

        Args:
            bench: The folder.
            port: At the host.
            host: One address of this machine.

        Raises:
            OSError: If the port is taken, or the address is not this machine's.
        """
        self._idle, self._serving = Condition(), 0  # asked for even if it cannot listen
        super().__init__((host, port), _Handler)
        self.bench = bench
        self.door: Door | None = None
        self.uploads = Uploads()
        self.gate = Gate(self.server_address[1], host)
        folder = files("shapecut.bench") / "static"
        self.pages = {one.name: one.read_bytes() for one in folder.iterdir() if one.is_file()}
        self._clients = BoundedSemaphore(MOST_CLIENTS)

    def process_request(self, request: Any, client_address: Any) -> None:
        """Serve a connection in a thread of its own, or close it where there are too many."""
        if self._clients.acquire(blocking=False):
            super().process_request(request, client_address)
        else:
            self.shutdown_request(request)

    def process_request_thread(self, request: Any, client_address: Any) -> None:
        """In that thread."""
        try:
            super().process_request_thread(request, client_address)
        finally:
            self._clients.release()

    @contextmanager
    def serving(self) -> Iterator[None]:
        """While a request is served."""
        with self._idle:
            self._serving += 1
        try:
            yield
        finally:
            with self._idle:
                self._serving -= 1
                self._idle.notify_all()

    def server_close(self) -> None:
        """Close, and let what is being served come to its end: no library is cut off at work."""
        super().server_close()
        with self._idle:
            self._idle.wait_for(lambda: self._serving == 0, CLOSING_S)

    def handle_error(self, request: Any, client_address: Any) -> None:
        """A client that goes away is no fault."""
        if not isinstance(sys.exception(), ConnectionError | TimeoutError):
            super().handle_error(request, client_address)


class _Handler(Answering):
    server: BenchServer
    timeout = SILENCE_S

    def do_GET(self) -> None:  # noqa: N802  # the library's name
        with self.server.serving():
            self._answer(self._get)

    def do_POST(self) -> None:  # noqa: N802
        with self.server.serving():
            self._answer(self._post)

    def _answer(self, serve: Any) -> None:
        """Serve one request; whatever goes wrong is told without a word about this machine."""
        try:
            if not self.server.gate.is_ours(self.headers):  # type: ignore[arg-type]
                raise RefusedError(HTTPStatus.FORBIDDEN, "This page does not belong to the bench.")
            serve()
        except RefusedError as refusal:
            self.close_connection = True
            self.send_values(refusal.status, {"wrong": str(refusal)})
            self.drain()
        except ShapecutError as error:
            words = self.server.bench.plainly(error)
            self.send_values(HTTPStatus.UNPROCESSABLE_ENTITY, {"wrong": words})
        except (ConnectionError, TimeoutError):
            self.close_connection = True
        except Exception:
            traceback.print_exc()
            self.close_connection = True
            words = "Something went wrong that should not; the terminal says more."
            self.send_values(HTTPStatus.INTERNAL_SERVER_ERROR, {"wrong": words})

    def _get(self) -> None:
        gate, path = self.server.gate, self.path
        if path.startswith("/enter/"):
            if not gate.may_enter(path.removeprefix("/enter/")):
                raise RefusedError(HTTPStatus.FORBIDDEN, CLOSED)
            self.send(HTTPStatus.SEE_OTHER, b"", {"Location": "/", "Set-Cookie": gate.cookie})
            return
        if not gate.may_read(self.headers):  # type: ignore[arg-type]
            self._show_door(path.removeprefix("/"))
        elif path.startswith("/call/"):
            self._check_call(changes=False)
            self.send_values(HTTPStatus.OK, self._read(path.removeprefix("/call/")))
        elif path == "/papers.zip":
            self.send_paper(self.server.bench.sitting.papers.zipped(), "papers.zip")
        elif path.startswith("/picture/"):
            self._send_picture(path.removeprefix("/picture/"))
        elif path.startswith("/cards.pdf?"):
            self._send_cards(parse_qs(path.removeprefix("/cards.pdf?")))
        elif path.startswith("/paper/"):
            self._send_numbered(path.removeprefix("/paper/"))
        else:
            self._send_page("bench.html" if path == "/" else path.removeprefix("/"))

    def _read(self, name: str) -> dict[str, Any]:
        if name == "job":
            return self.server.bench.shown()
        if name == "stamp":
            return {"stamp": self.server.bench.stamp()}
        if name == "progress":
            return self.server.bench.sitting.progress()
        raise RefusedError(HTTPStatus.NOT_FOUND, "There is no such page.")

    def _show_door(self, name: str) -> None:
        door = self.server.door
        if door is None and not name:
            text = {"Content-Type": "text/plain; charset=utf-8"}
            self.send(HTTPStatus.FORBIDDEN, CLOSED.encode(), text)
            return
        if door is None or name not in ("", *AT_THE_DOOR):
            raise RefusedError(HTTPStatus.FORBIDDEN, CLOSED)
        door.knock()
        self._send_page(name or "door.html")

    def _post(self) -> None:
        if self.path == "/enter" and self.server.door:
            self._enter(self.server.door)
            return
        self._check_call(changes=True)
        if self.path == "/photograph":
            self.send_values(HTTPStatus.OK, self._uploaded())
            return
        values = self._body()
        answer = self.server.bench.call(self.path.removeprefix("/call/"), values)
        if answer is None:
            raise RefusedError(HTTPStatus.NOT_FOUND, "There is no such page.")
        self.send_values(HTTPStatus.OK, answer)

    def _enter(self, door: Door) -> None:
        if not self.server.gate.may_knock(self.headers):  # type: ignore[arg-type]
            raise RefusedError(HTTPStatus.FORBIDDEN, "This page does not belong to the bench.")
        if not door.opens(str(self._body().get("code"))):
            raise RefusedError(
                HTTPStatus.FORBIDDEN,
                "That code lets nobody in, or no longer. Type the last one that the terminal "
                "shows; reload this page for a new one.",
            )
        self.send_values(HTTPStatus.OK, {}, {"Set-Cookie": self.server.gate.cookie})

    def _uploaded(self) -> dict[str, Any]:
        """A photograph taken up; it comes as it is, without a name."""
        bench, most = self.server.bench, LARGEST_PHOTO // 1024**2
        too_large = f"The file is larger than {most} MB: choose a photograph as the camera made it."
        length = stated_length(self.headers, LARGEST_PHOTO, too_large)  # type: ignore[arg-type]
        try:
            photographs = bench.sitting.photographs
        except UsageError as error:  # the photograph is still to come, and is not waited for
            raise RefusedError(HTTPStatus.UNPROCESSABLE_ENTITY, str(error)) from None
        with self.server.uploads.received(self.rfile, length, bench.folder) as file:
            return photographs.take(file, length)

    def _check_call(self, *, changes: bool) -> None:
        if not self.server.gate.may_call(self.headers, changes=changes):  # type: ignore[arg-type]
            raise RefusedError(HTTPStatus.FORBIDDEN, CLOSED)

    def _body(self) -> dict[str, Any]:
        too_large = "That is more than a call holds."
        length = stated_length(self.headers, LARGEST_BODY, too_large)  # type: ignore[arg-type]
        data = b"".join(body(self.rfile, length, seconds=BODY_S))
        try:
            values = json.loads(data)
        except (ValueError, RecursionError):
            values = None
        if not isinstance(values, dict):
            raise RefusedError(HTTPStatus.BAD_REQUEST, "A call is an object of JSON.")
        return values

    def _send_page(self, name: str) -> None:
        data = self.server.pages.get(name)
        kind = KINDS.get(name[name.rfind(".") :])
        if data is None or kind is None:
            raise RefusedError(HTTPStatus.NOT_FOUND, "There is no such page.")
        data = data.replace(KEY_MARK.encode(), self.server.gate.call_key.encode())
        self.send(HTTPStatus.OK, data, {"Content-Type": kind})

    def _send_picture(self, name: str) -> None:
        """One of the pictures that the outline's step named, found by that name alone."""
        data = self.server.bench.sitting.outline.picture(name)
        if data is None:
            raise RefusedError(HTTPStatus.NOT_FOUND, "There is no such picture.")
        self.send(HTTPStatus.OK, data, {"Content-Type": "image/jpeg"})

    def _send_cards(self, asked: dict[str, list[str]]) -> None:
        """The same file as `shapecut cards` writes."""
        size, page, count = (asked.get(key, [""])[0] for key in ("size", "page", "count"))
        if not (count.isascii() and count.isdigit() and 0 < int(count[:4]) <= MOST_CARDS):
            raise UsageError(f"Print 1 to {MOST_CARDS} cards at once.")
        from shapecut.capture.card_sheets import card_sheets_pdf

        self.send_paper(card_sheets_pdf(size=size, page=page, count=int(count)), "cards.pdf")

    def _send_numbered(self, number: str) -> None:
        papers = self.server.bench.sitting.papers.files()
        if not (number.isascii() and number.isdigit() and len(number) < 6):
            raise RefusedError(HTTPStatus.NOT_FOUND, "There is no such paper.")
        if int(number) >= len(papers):
            raise RefusedError(HTTPStatus.NOT_FOUND, "There is no such paper.")
        path = papers[int(number)]
        self.send_paper(path.read_bytes(), path.name)
