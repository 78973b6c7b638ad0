"""What would harm a job at the bench: floods, bombs, liars, and a program killed in mid-write."""

import http.client
import json
import os
import random
import re
import socket
import struct
import tempfile
import threading
import time
import zlib
from dataclasses import dataclass

import psutil
import pytest

pytest.importorskip("tomlkit", reason="the bench's extra is not installed")

from shapecut.bench.bench import Bench
from shapecut.bench.bodies import AT_ONCE
from shapecut.bench.gate import CALL_HEADER
from shapecut.bench.job_store import BEFORE_FILE
from shapecut.job.reading import read_job
from shapecut.papers.draft import UNLOCKED_S
from tests.test_bench import ask, call, change, folder, served, server  # noqa: F401
from tests.test_bench_network import lines_of, run_bench
from tests.test_bench_photographs import files, picture, upload

MEGABYTE = 1024 * 1024


@pytest.fixture
def empty(tmp_path):
    """A bench with a job that has no photographs yet."""
    bench = Bench(tmp_path / "steps")
    bench.call("begin", {"title": "Steps", "units": "mm", "pictures": False})
    with served(bench) as opened:
        yield opened


def png_chunk(kind, data):
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))


def png_bomb(width=100_000, height=100_000):
    """A few kilobytes that claim ten thousand megapixels."""
    header = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    rows = zlib.compress(bytes(10 * MEGABYTE))
    chunks = [(b"IHDR", header), (b"IDAT", rows), (b"IEND", b"")]
    return b"\x89PNG\r\n\x1a\n" + b"".join(png_chunk(*chunk) for chunk in chunks)


def png_text_bomb():
    """A picture of usual size, with a note that unpacks to 200 megabytes."""
    note = png_chunk(b"zTXt", b"note\0\0" + zlib.compress(bytes(200 * MEGABYTE)))
    whole = picture(kind="PNG")
    return whole[:33] + note + whole[33:]


def tiff_bomb(side=60_000):
    """A TIFF whose directory claims 3600 megapixels."""
    tags = [
        (256, 4, 1, side), (257, 4, 1, side), (258, 3, 1, 8), (259, 3, 1, 1), (262, 3, 1, 1),
        (273, 4, 1, 8), (277, 3, 1, 1), (278, 4, 1, side), (279, 4, 1, side * side),
    ]  # fmt: skip
    entries = b"".join(struct.pack("<HHII", *tag) for tag in tags)
    return b"II*\0" + struct.pack("<IH", 8, len(tags)) + entries + bytes(4)


@pytest.mark.parametrize("bomb", [png_bomb, png_text_bomb, tiff_bomb])
def test_a_bomb_is_refused_without_being_unpacked(empty, bomb):
    data = bomb()
    assert len(data) < MEGABYTE
    before = psutil.Process().memory_info().rss
    status, answer = upload(empty, data)
    assert status == 422
    assert answer["wrong"]
    assert psutil.Process().memory_info().rss - before < 100 * MEGABYTE
    assert files(empty.bench.folder) == ["job.toml"]


def test_a_photograph_of_500_megabytes_is_refused_before_it_is_sent(empty):
    status, answer = upload(empty, b"", Content_Length="500000000")
    assert status == 413
    assert "100 MB" in answer["wrong"]
    assert files(empty.bench.folder) == ["job.toml"]
    assert upload(empty, picture())[0] == 200


@pytest.mark.parametrize("headers", [{"Content_Length": None}, {"Transfer_Encoding": "chunked"}])
def test_a_photograph_without_a_length_is_refused(empty, headers):
    assert upload(empty, b"", **headers)[0] == 411


@pytest.mark.parametrize(
    "forged",
    [
        {"Host": "deck.example"},
        {"Origin": "http://deck.example"},
        {"Origin": None},
        {"Cookie": None},
        {"X_Bench_Key": None},
    ],
)
def test_a_forged_upload_is_refused(empty, forged):
    assert upload(empty, picture(), **forged)[0] == 403
    assert files(empty.bench.folder) == ["job.toml"]


@pytest.mark.parametrize(
    "path",
    [
        "/photograph/../job.toml",
        "/photograph?name=../job.toml",
        "/photograph/..%2fjob.toml",
        "/call/photograph",
    ],
)
def test_no_path_is_taken_from_an_upload(empty, path):
    before = (empty.bench.folder / "job.toml").read_bytes()
    assert ask(empty, "POST", path, picture())[0] in (400, 404, 413)
    assert (empty.bench.folder / "job.toml").read_bytes() == before
    assert files(empty.bench.folder) == ["job.toml"]


def head_of_upload(opened, length):
    """The start of an upload, its body still to be sent."""
    gate = opened.gate
    lines = [
        "POST /photograph HTTP/1.1", f"Host: {gate.host}:{gate.port}", f"Origin: {gate.place}",
        f"Cookie: {gate.cookie.split(';')[0]}", f"{CALL_HEADER}: {gate.call_key}",
        f"Content-Length: {length}", "", "",
    ]  # fmt: skip
    client = socket.create_connection((gate.host, gate.port))
    client.sendall("\r\n".join(lines).encode())
    return client


def test_uploads_that_stop_in_the_middle_leave_nothing_and_hold_nobody_up(empty):
    data = picture()
    half = [head_of_upload(empty, len(data)) for _ in range(AT_ONCE)]
    for client in half:
        client.sendall(data[: len(data) // 2])
    time.sleep(0.3)
    for client in half:
        client.close()
    assert upload(empty, data)[0] == 200
    assert files(empty.bench.folder) == ["job.toml", "photo-1.jpg"]


def test_a_flood_of_connections_is_shut_out_and_the_bench_goes_on(server):  # noqa: F811
    silent = []
    for _ in range(200):
        silent.append(socket.create_connection((server.gate.host, server.gate.port)))
    for client in silent:
        client.close()
    deadline = time.monotonic() + 30
    while True:
        try:
            assert change(server, ("boards", "gap", "6 mm"))[0] == 200
            return
        except (ConnectionError, http.client.HTTPException):
            assert time.monotonic() < deadline
            time.sleep(0.1)


@dataclass
class Running:
    """The bench in a process of its own, and a browser's keys to it."""

    process: object
    port: int
    cookie: str
    key: str

    def connection(self):
        return http.client.HTTPConnection("127.0.0.1", self.port, timeout=30)

    def headers(self, **more):
        return {
            "Origin": f"http://127.0.0.1:{self.port}", "Cookie": self.cookie,
            CALL_HEADER: self.key, **more,
        }  # fmt: skip

    def change(self, connection, gap):
        body = json.dumps({"edits": [["boards", "gap", gap]]})
        connection.request("POST", "/call/change", body, self.headers())
        return connection.getresponse().read()

    def kill(self):
        self.process.kill()
        self.process.wait()
        self.process.stdout.close()


@pytest.fixture
def running():
    """Starts the command; what still runs in the end is killed."""
    started = []

    def run(folder):  # noqa: F811
        process = run_bench(folder)
        (said,) = lines_of(process, 1)
        port, ticket = re.search(r"127\.0\.0\.1:(\d+)(/enter/\S+)", said).groups()
        connection = http.client.HTTPConnection("127.0.0.1", int(port), timeout=30)
        connection.request("GET", ticket)
        answer = connection.getresponse()
        answer.read()
        cookie = answer.headers["Set-Cookie"].split(";")[0]
        connection.request("GET", "/", headers={"Cookie": cookie})
        key = re.search(r'call-key" content="([^"]+)', connection.getresponse().read().decode())
        connection.close()
        started.append(Running(process, int(port), cookie, key[1]))
        return started[-1]

    yield run
    for one in started:
        one.kill()


def test_a_kill_in_the_middle_of_an_upload_leaves_the_job_as_it_was(running, folder):  # noqa: F811
    before = {path.name: path.read_bytes() for path in folder.iterdir()}
    bench, data = running(folder), picture(size=(2000, 1500))
    connection = bench.connection()
    connection.putrequest("POST", "/photograph")
    for name, value in bench.headers().items():
        connection.putheader(name, value)
    connection.putheader("Content-Length", str(len(data)))
    connection.endheaders(data[: len(data) // 2])
    time.sleep(0.3)
    bench.kill()
    assert {path.name: path.read_bytes() for path in folder.iterdir()} == before
    with served(Bench(folder)) as again:
        assert upload(again, data)[0] == 200


@pytest.mark.parametrize("number", range(4))
def test_a_kill_while_the_job_is_written_leaves_one_of_its_states(running, folder, number):  # noqa: F811
    bench, gaps = running(folder), [f"{tenths / 10} mm" for tenths in range(30, 70)]
    sent = [read_job(folder).boards.gap]

    def write():
        connection = bench.connection()
        try:
            for gap in gaps * 50:
                sent.append(float(gap.split()[0]))
                bench.change(connection, gap)
        except (OSError, http.client.HTTPException):
            return

    writing = threading.Thread(target=write)
    writing.start()
    while len(sent) < 3:
        time.sleep(0.01)
    time.sleep(random.Random(number).uniform(0.0, 0.4))
    bench.kill()
    writing.join()
    assert read_job(folder).boards.gap in sent[-3:]
    for path in folder.iterdir():  # as they are a minute later
        os.utime(path, (time.time() - 2 * UNLOCKED_S,) * 2)
    with served(Bench(folder)) as again:
        assert change(again, ("boards", "gap", "9 mm"))[0] == 200
    assert {path.name for path in folder.iterdir()} == {"job.toml", BEFORE_FILE, "outline.json"}


def test_a_photograph_that_cannot_be_kept_is_told_and_leaves_nothing(empty, monkeypatch):
    def full(*_, **__):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(tempfile, "TemporaryFile", full)
    status, answer = upload(empty, picture())
    assert (status, "disk is full" in answer["wrong"]) == (507, True)
    assert files(empty.bench.folder) == ["job.toml"]


def test_a_client_that_lies_about_a_photograph_costs_little_memory(running, folder):  # noqa: F811
    bench = running(folder)
    length = 99 * MEGABYTE
    before = psutil.Process(bench.process.pid).memory_info().rss
    connection = bench.connection()
    connection.request("POST", "/photograph", bytes(length), bench.headers())
    answer = connection.getresponse()
    assert (answer.status, b"not a JPEG" in answer.read()) == (422, True)
    assert psutil.Process(bench.process.pid).memory_info().rss - before < 60 * MEGABYTE
    assert files(folder) == ["job.toml", "outline.json"]


def test_begin_cannot_overwrite_a_job(server, folder):  # noqa: F811
    before = (folder / "job.toml").read_bytes()
    assert call(server, "begin", title="x", units="mm", pictures=False)[0] == 200
    assert (folder / "job.toml").read_bytes() == before
