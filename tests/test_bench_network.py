"""The bench open to the local network: only by a code, only at the address it listens at."""

import json
import subprocess
import sys

import pytest

pytest.importorskip("tomlkit", reason="the bench's extra is not installed")

from shapecut.bench.bench import Bench
from shapecut.bench.door import CODE_LENGTH, LASTS_S, NEW_CODE_S, TRIES, Door
from shapecut.bench.network import local_address
from shapecut.errors import UsageError
from tests.test_bench import ask, folder, served  # noqa: F401

OTHER_LOOPBACK = "127.0.0.2"
"""An address of this machine that is not 127.0.0.1 stands in for the one in a network."""


class Clock:
    """Tells the time that it is set to."""

    now = 0.0

    def __call__(self):
        return self.now


@pytest.fixture
def codes():
    return []


@pytest.fixture
def clock():
    return Clock()


@pytest.fixture
def door(codes, clock):
    return Door(codes.append, clock=clock, pause=lambda _: None)


@pytest.fixture
def server(folder, door):  # noqa: F811
    with served(Bench(folder), host=OTHER_LOOPBACK) as server:
        server.door = door
        yield server


def test_a_code_lets_in_once_however_it_is_typed(door, codes):
    (code,) = codes
    assert len(code.replace(" ", "")) == CODE_LENGTH
    assert door.opens(f" {code.lower()} ")
    assert not door.opens(code)


def test_a_code_expires(door, codes, clock):
    clock.now = LASTS_S + 1
    assert not door.opens(codes[0])
    door.knock()
    assert len(codes) == 2
    assert door.opens(codes[1])


def test_wrong_tries_make_a_code_void_and_the_next_takes_its_time(door, codes, clock):
    assert not any(door.opens("AAAAAA") for _ in range(TRIES))
    assert not door.opens(codes[0])
    door.knock()
    assert len(codes) == 1  # not before its time
    clock.now = NEW_CODE_S
    door.knock()
    assert door.opens(codes[1])


def test_each_try_waits(codes):
    waits = []
    door = Door(codes.append, pause=waits.append)
    for given in ("", "AAAAAA", codes[0], "ü" * 5000):
        door.opens(given)
    assert waits == [1.0] * 4


def enter(server, code, **headers):
    headers = {"Cookie": None, "X_Bench_Key": None} | headers
    body = json.dumps({"code": code}).encode()
    return ask(server, "POST", "/enter", body, **headers)


def test_a_device_comes_in_by_the_code_and_then_sees_the_job(server, codes):
    status, _, page = ask(server, "GET", "/", Cookie=None, Origin=None)
    assert status == 200
    assert b"Come in" in page
    assert server.gate.call_key.encode() not in page
    for name in ("bench.js", "call/job", "papers.zip", "picture/0", "paper/0"):
        assert ask(server, "GET", f"/{name}", Cookie=None)[0] == 403
    status, headers, _ = enter(server, codes[0])
    assert status == 200
    cookie = headers["Set-Cookie"].split(";")[0]
    status, _, page = ask(server, "GET", "/", Cookie=cookie, Origin=None)
    assert server.gate.call_key.encode() in page
    assert ask(server, "GET", "/call/job", Cookie=cookie)[0] == 200


@pytest.mark.parametrize(
    "forged",
    [
        {"Host": "deck.example"},
        {"Host": "127.0.0.1:1"},
        {"Origin": "http://deck.example"},
        {"Origin": None},
        {"Sec_Fetch_Site": "cross-site"},
    ],
)
def test_a_forged_knock_is_refused_before_its_code_is_looked_at(server, codes, forged):
    assert enter(server, codes[0], **forged)[0] == 403
    assert enter(server, codes[0])[0] == 200


def test_a_wrong_code_is_told_so(server):
    status, _, data = enter(server, "AAAAAA")
    assert status == 403
    assert "terminal" in json.loads(data)["wrong"]
    for body in (b"", b"[]", b'{"code": {"a": 1}}'):
        headers = {"Cookie": None, "X_Bench_Key": None}
        assert ask(server, "POST", "/enter", body, **headers)[0] in (400, 403)


def test_the_network_is_named_as_it_was_listened_at(server):
    """A page that a name was bound to, whatever it resolves to, is no page of ours."""
    port = server.gate.port
    for host in (f"localhost:{port}", f"127.0.0.1:{port}", f"0.0.0.0:{port}"):
        assert ask(server, "GET", "/", Host=host, Cookie=None, Origin=None)[0] == 403


def test_without_a_door_no_code_is_taken(folder):  # noqa: F811
    with served(Bench(folder)) as alone:
        assert enter(alone, "AAAAAA")[0] == 403
        assert ask(alone, "GET", "/", Cookie=None, Origin=None)[0] == 403


@pytest.mark.parametrize("stated", ["0.0.0.0", "224.0.0.1", "deck.example", "::", "192.168.1"])
def test_what_is_no_address_is_not_listened_at(stated):
    with pytest.raises(UsageError, match="name the one that this machine has"):
        local_address(stated)


def run_bench(*arguments, cwd=None):
    """The command in a process of its own."""
    program = [sys.executable, "-c", "from shapecut.cli import main; main()"]
    command = [*program, "bench", *arguments, "--no-browser"]
    return subprocess.Popen(command, stdout=subprocess.PIPE, text=True, cwd=cwd)


def lines_of(process, count):
    return [process.stdout.readline().strip() for _ in range(count)]


def test_the_terminal_says_where_and_how_unsafely_the_bench_is_open(folder):  # noqa: F811
    bench = run_bench(folder, "--open-to-network", "--address", OTHER_LOOPBACK)
    try:
        said = lines_of(bench, 5)
    finally:
        bench.terminate()
        bench.communicate()
    assert "http://127.0.0.1:" in said[0]
    assert str(folder) in said[1]
    assert f"http://{OTHER_LOOPBACK}:" in said[2]
    assert "not encrypted" in said[3]
    assert said[4].startswith("code: ")


@pytest.mark.parametrize("in_a_job", [True, False])
def test_without_a_folder_it_is_this_one_or_a_new_one_in_it(folder, tmp_path, in_a_job):  # noqa: F811
    bench = run_bench(cwd=folder if in_a_job else tmp_path)
    try:
        said = lines_of(bench, 2)
    finally:
        bench.terminate()
        bench.communicate()
    assert said[1].endswith(str(folder if in_a_job else tmp_path / "shapecut-job"))
    assert not (tmp_path / "shapecut-job").exists()  # before the job is begun


def test_a_taken_port_and_a_foreign_address_are_told(folder):  # noqa: F811
    with served(Bench(folder)) as server:
        taken = run_bench(folder, "--port", str(server.gate.port))
        taken.communicate()
        assert taken.returncode == 2
    foreign = run_bench(folder, "--open-to-network", "--address", "192.0.2.77")
    foreign.communicate()
    assert foreign.returncode == 2
