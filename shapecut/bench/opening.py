"""Opening the bench: the server of this machine, and on request one for the local network."""

import webbrowser
from collections.abc import Callable
from pathlib import Path
from threading import Thread

from shapecut.bench.bench import Bench
from shapecut.bench.door import Door
from shapecut.bench.network import local_address
from shapecut.bench.server import BenchServer
from shapecut.errors import UsageError
from shapecut.job.reading import JOB_FILE

__all__ = ["DEFAULT_FOLDER", "open_bench"]

DEFAULT_FOLDER = "shapecut-job"
"""Of a job where none is named."""

OPEN_WORDS = (
    "  The connection is not encrypted: whoever in that network has the code, or listens in, can "
    "see and change this job.  Use it only where you trust the network."
)


def open_bench(
    folder: Path | None,
    *,
    port: int,
    to_network: bool,
    address: str | None,
    browser: bool,
    say: Callable[[str], object],
) -> None:
    """Serve a folder until the person stops it.

    Args:
        folder: Of a job, or for one; None for this folder if it has a job, else `DEFAULT_FOLDER`.
        port: To listen at; 0 for any free one.
        to_network: Whether other devices may come in, by a code.
        address: Of this machine in the local network; None to find it.
        browser: Whether to open the page.
        say: Shows a line to the person.

    Raises:
        UsageError: If it cannot be listened there.
        JobFileError: If the folder's job file cannot be read.
    """
    if address and not to_network:
        raise UsageError("--address is for --open-to-network: give both, or neither.")
    host = local_address(address) if to_network else None
    folder = folder or Path("." if Path(JOB_FILE).exists() else DEFAULT_FOLDER)
    bench = Bench(folder)
    own = _server(bench, port)
    opened = [own]
    try:
        if host:
            opened.append(_server(bench, port, host))
        say(f"the bench is open at {own.gate.address}  (Ctrl-C closes it)")
        say(f"the job is kept in {bench.folder}")
        for network in opened[1:]:
            say(f"open to the local network at {network.gate.place}")
            say(OPEN_WORDS)
            network.door = Door(
                lambda code: say(f"  code: {code}  (lets one device in, within ten minutes)")
            )
            Thread(target=network.serve_forever, daemon=True).start()
        if browser:
            webbrowser.open(own.gate.address)
        own.serve_forever()
    except KeyboardInterrupt:
        say("closed")
    finally:
        bench.close()
        for server in opened:
            server.server_close()


def _server(bench: Bench, port: int, host: str | None = None) -> BenchServer:
    try:
        return BenchServer(bench, port, host=host) if host else BenchServer(bench, port)
    except OSError:
        if host:
            raise UsageError(
                f"{host} cannot be listened at: name an address of this machine with --address, "
                "or another --port."
            ) from None
        raise UsageError(f"Port {port} is taken: name another one with --port.") from None
