"""The bench's server: what it answers to its own page, and to those who would abuse it."""

import http.client
import json
import shutil
import socket
import time
import tomllib
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from pathlib import Path
from threading import Thread

import ezdxf
import pytest

pytest.importorskip("tomlkit", reason="the bench's extra is not installed")

from shapecut.bench.bench import Bench
from shapecut.bench.job_store import BEFORE_FILE, Edit, JobStore, edited
from shapecut.bench.server import LARGEST_BODY, BenchServer
from shapecut.errors import JobFileError, ShapecutError
from shapecut.job.new_job import job_text
from shapecut.job.reading import read_job
from shapecut.job_folder import make_into
from shapecut.papers.folder import MANIFEST

EXAMPLE = Path(__file__).parent.parent / "examples" / "pond_terrace"


@pytest.fixture
def folder(tmp_path):
    return Path(shutil.copytree(EXAMPLE, tmp_path / "terrace"))


@pytest.fixture
def server(folder):
    with served(Bench(folder)) as server:
        yield server


@contextmanager
def served(bench, **settings):
    """A server of a bench, at work."""
    server = BenchServer(bench, **settings)
    Thread(target=server.serve_forever, daemon=True).start()
    try:
        yield server
    finally:
        server.shutdown()
        bench.close()
        server.server_close()


def ask(server, method, path, body=None, **headers):
    """Status, headers and body of an answer; headers that are None are left out."""
    gate = server.gate
    own = {
        "Host": f"{gate.host}:{gate.port}",
        "Origin": gate.place,
        "Cookie": gate.cookie.split(";")[0],
        "X-Bench-Key": gate.call_key,
        "Content-Length": None if body is None else str(len(body)),
    }
    own |= {name.replace("_", "-"): value for name, value in headers.items()}
    connection = http.client.HTTPConnection(gate.host, gate.port, timeout=60)
    connection.putrequest(method, path, skip_host=True, skip_accept_encoding=True)
    for name, value in own.items():
        if value is not None:
            connection.putheader(name, value)
    connection.endheaders(body)
    answer = connection.getresponse()
    data = answer.read()
    connection.close()
    return answer.status, answer.headers, data


def call(server, name, **values):
    status, _, data = ask(server, "POST", f"/call/{name}", json.dumps(values).encode())
    return status, json.loads(data)


def change(server, *edits):
    return call(server, "change", edits=[list(edit) for edit in edits])


def progress(server, step):
    return json.loads(ask(server, "GET", "/call/progress")[2])[step]


def made(server):
    """Wait for the papers; how it ended."""
    while (now := progress(server, "make"))["state"] == "running":
        time.sleep(0.05)
    return now["state"]


def test_the_address_gives_the_page_a_cookie_and_nothing_else_does(server):
    ticket = server.gate.address.split(str(server.gate.port))[1]
    status, headers, _ = ask(server, "GET", ticket, Cookie=None, Origin=None)
    assert status == 303
    assert "HttpOnly; SameSite=Strict" in headers["Set-Cookie"]
    assert ask(server, "GET", "/enter/guessed", Cookie=None)[0] == 403
    assert ask(server, "GET", "/", Cookie=None)[0] == 403
    status, headers, page = ask(server, "GET", "/", Origin=None)
    assert status == 200
    assert server.gate.call_key.encode() in page
    assert "default-src 'none'" in headers["Content-Security-Policy"]


@pytest.mark.parametrize(
    "forged",
    [
        {"Host": "deck.example"},
        {"Host": "127.0.0.1"},
        {"Host": None},
        {"Origin": "http://deck.example"},
        {"Origin": "null"},
        {"Origin": None},
        {"Sec_Fetch_Site": "cross-site"},
        {"Cookie": None},
        {"Cookie": "shapecut_bench=guessed"},
        {"X_Bench_Key": None},
        {"X_Bench_Key": "guessed"},
    ],
)
def test_a_forged_change_is_refused(server, folder, forged):
    before = (folder / "job.toml").read_bytes()
    body = json.dumps({"edits": [["boards", "gap", "9 mm"]]}).encode()
    assert ask(server, "POST", "/call/change", body, **forged)[0] == 403
    assert (folder / "job.toml").read_bytes() == before


@pytest.mark.parametrize(
    "path",
    [
        "/../server.py",
        "/..%2fserver.py",
        "/static/bench.js",
        "/%2e%2e/gate.py",
        "//etc/passwd",
        "/paper/../job.toml",
        "/paper/-1",
        "/paper/99999",
        "/paper/%D9%A3",
        "/call/../job",
        "/call/shown",
    ],
)
def test_no_path_leads_out(server, path):
    status, _, data = ask(server, "GET", path)
    assert status == 404
    assert b"wrong" in data


def test_a_paper_that_the_list_names_outside_is_not_served(server, folder):
    (folder / "cut").mkdir()
    (folder / "cut" / MANIFEST).write_text("../job.toml\n")
    assert ask(server, "GET", "/paper/0")[0] == 404


def test_a_huge_body_is_answered_before_it_is_sent(server):
    status, _, data = ask(server, "POST", "/call/change", b"{}", Content_Length="500000000")
    assert status == 413
    assert "wrong" in json.loads(data)
    assert change(server, ("boards", "gap", "6 mm"))[0] == 200


@pytest.mark.parametrize("stated", [None, "-1", "many", "9" * 5000])
def test_a_body_without_a_sensible_length_is_refused(server, stated):
    assert ask(server, "POST", "/call/change", b"{}", Content_Length=stated)[0] in (411, 413)


@pytest.mark.parametrize(
    "body",
    [
        b"",
        b"[]",
        b"{",
        b"[" * (LARGEST_BODY - 1),
        b'{"edits": 3}',
        b'{"edits": [["boards"]]}',
        b'{"edits": [["boards", "gap", 3]]}',
        b'{"edits": [["template", "outline", "/etc/passwd"]]}',
        b'{"edits": [["boards", "gap", "wide"]]}',
    ],
)
def test_nonsense_is_answered_with_a_sentence_and_changes_nothing(server, folder, body):
    before = (folder / "job.toml").read_bytes()
    status, _, data = ask(server, "POST", "/call/change", body)
    assert status in (400, 422)
    assert json.loads(data)["wrong"]
    assert (folder / "job.toml").read_bytes() == before


def test_twenty_clients_at_once_are_all_answered(server, folder):
    def one(number):
        return change(server, ("boards", "gap", f"{number % 9 + 1} mm"))[0]

    silent = [socket.create_connection(("127.0.0.1", server.gate.port)) for _ in range(20)]
    with ThreadPoolExecutor(20) as clients:
        assert set(clients.map(one, range(20))) == {200}
    for client in silent:
        client.close()
    assert read_job(folder)


def test_errors_say_nothing_of_the_machine(server, folder):
    (folder / "outline.json").unlink()
    shown = json.loads(ask(server, "GET", "/call/job")[2])
    assert "outline.json" in shown["outline"]["wrong"]
    assert str(folder) not in json.dumps(shown)


@pytest.mark.parametrize("text", ['title = "x', "[boards]\n", "\xff"])
def test_a_job_file_that_was_spoilt_by_hand_is_told_and_brought_back_by_undo(server, folder, text):
    first = (folder / "job.toml").read_bytes()
    (folder / "job.toml").write_bytes(text.encode("latin-1"))
    shown = json.loads(ask(server, "GET", "/call/job")[2])
    assert "job.toml" in shown["wrong"]
    assert "title" not in shown
    if text != "\xff":  # what is no text is not known either
        assert "title" in call(server, "undo")[1]
        assert (folder / "job.toml").read_bytes() == first


def test_the_stamp_tells_of_changes_elsewhere(server, folder):
    def stamp():
        return json.loads(ask(server, "GET", "/call/stamp")[2])["stamp"]

    first = stamp()
    assert stamp() == first == json.loads(ask(server, "GET", "/call/job")[2])["stamp"]
    (folder / "job.toml").write_text((folder / "job.toml").read_text() + "# by hand\n")
    assert stamp() != first


def test_changes_keep_comments_and_can_be_undone_and_redone(server, folder):
    first = (folder / "job.toml").read_text()
    _, shown = change(server, ("edges", "E4", "exposed"), ("boards", "gap", "6 mm"))
    meets = {edge["name"]: edge["meets"] for edge in shown["outline"]["edges"]}
    second = (folder / "job.toml").read_text()
    assert meets["E4"] == "exposed"
    assert meets["E1"] == "wall"
    assert 'first = "29 mm"      # so that one lies under the ends at E3' in second
    assert (folder / BEFORE_FILE).read_text() == first
    call(server, "undo")
    assert (folder / "job.toml").read_text() == first
    _, shown = call(server, "redo")
    assert (folder / "job.toml").read_text() == second
    assert (shown["undo"], shown["redo"]) == (True, False)


def test_a_new_value_stands_below_the_note_that_shows_it_and_leaves_no_trace():
    text = job_text("Steps", ["one.jpg"])
    edits = [
        Edit("cards", "bar_along", "99.8 mm"),
        Edit("boards", "start", "best"),
        Edit("template", "drawn", "silhouette"),
        Edit("joists", "spacing", "400 mm"),
    ]
    changed = edited(text, edits)
    assert '# bar_along = "99.8 mm"\nbar_along = "99.8 mm"\n' in changed
    assert '# start = "best"\nstart = "best"\n' in changed
    assert '[template]\ndrawn = "silhouette"\n' in changed
    assert changed.endswith('[joists]\nspacing = "400 mm"\n')
    back = edited(changed, [Edit(edit.table, edit.key, None) for edit in edits])
    assert back.rstrip() == text.rstrip()


def test_cards_of_another_print_stand_in_one_line():
    text = job_text("Steps", ["one.jpg"])
    own = [Edit("cards.own", "dictionary", "AprilTag 36h11"), Edit("cards.own", "side", "90 mm")]
    changed = edited(text, own)
    line = 'own = {dictionary = "AprilTag 36h11", side = "90 mm"}\n'
    assert changed.replace(line, "", 1) == text
    assert edited(changed, [Edit("cards.own", key, None) for key in ("dictionary", "side")]) == text


def test_notes_within_longer_texts_are_left_alone():
    text = 'title = """\n[boards]\n# gap = 1\n"""\n[boards]\nwidth = "140 mm"\n'
    changed = edited(text, [Edit("boards", "gap", "5 mm")])
    assert tomllib.loads(changed)["boards"] == {"width": "140 mm", "gap": "5 mm"}
    assert tomllib.loads(changed)["title"] == "[boards]\n# gap = 1\n"


def test_a_change_by_hand_meanwhile_is_taken_up_and_can_be_undone(folder):
    store = JobStore(folder)
    first = (folder / "job.toml").read_text()
    (folder / "job.toml").write_text(first.replace("Terrace", "Deck"))
    store.change([Edit("boards", "gap", "6 mm")])
    assert store.job.title == "Deck by the pond"
    store.undo()
    store.undo()
    assert (folder / "job.toml").read_text() == first


def test_a_kill_in_mid_write_leaves_the_job_whole(folder, monkeypatch):
    store, first = JobStore(folder), (folder / "job.toml").read_text()

    def killed(*_):
        raise SystemExit

    monkeypatch.setattr(Path, "replace", killed)
    with pytest.raises(SystemExit):
        store.change([Edit("boards", "gap", "6 mm")])
    assert (folder / "job.toml").read_text() == first


def test_a_folder_without_a_job_is_answered(tmp_path):
    with pytest.raises(JobFileError, match="shapecut new"):
        JobStore(tmp_path)


def test_an_impossible_change_is_refused_whole(folder):
    store, first = JobStore(folder), (folder / "job.toml").read_text()
    with pytest.raises(ShapecutError, match="gap"):
        store.change([Edit("edges", "E4", "wall"), Edit("boards", "gap", "900 mm")])
    assert (folder / "job.toml").read_text() == first


def test_trying_shows_other_rows_and_writes_nothing(server, folder):
    first = (folder / "job.toml").read_bytes()
    shown = json.loads(ask(server, "GET", "/call/job")[2])
    status, tried = call(server, "try", edits=[["boards", "start", "60 mm from E6"]])
    assert status == 200
    assert tried["pieces"] != shown["rows"]["pieces"]
    assert (folder / "job.toml").read_bytes() == first


def without_dates(data):
    """A DXF's text without the lines that follow its dates and identities."""
    lines = data.decode().splitlines()
    volatile = {"$TDCREATE", "$TDUCREATE", "$TDUPDATE", "$TDUUPDATE"}
    volatile |= {"$FINGERPRINTGUID", "$VERSIONGUID"}
    keep, skip = [], 0
    for line in lines:
        if line in volatile:
            skip = 3
        if skip:
            skip -= 1
        else:
            keep.append(line)
    return keep


def test_the_papers_are_those_of_the_command_line(server, folder, tmp_path):
    change(server, ("boards", "start", "60 mm from E6"), ("edges", "E3", "exposed"))
    assert call(server, "start", step="make")[0] == 200
    assert made(server) == "done"
    names = json.loads(ask(server, "GET", "/call/job")[2])["papers"]["names"]
    status, headers, dxf = ask(server, "GET", f"/paper/{names.index('boards.dxf')}")
    assert status == 200
    assert headers["Content-Disposition"].startswith("attachment")

    make_into(folder, tmp_path / "by-hand", replace=False)
    by_hand = (tmp_path / "by-hand" / "boards.dxf").read_bytes()
    assert without_dates(dxf) == without_dates(by_hand)
    assert ezdxf.readfile(folder / "cut" / "boards.dxf").modelspace()
    assert ask(server, "GET", "/papers.zip")[2].startswith(b"PK")


def test_a_stopped_step_leaves_the_former_papers(server, folder):
    call(server, "start", step="make")
    assert made(server) == "done"
    before = (folder / "cut" / "report.html").read_bytes()
    change(server, ("boards", "thickness", "27 mm"))
    call(server, "start", step="make")
    while progress(server, "make")["words"] == "starting":
        time.sleep(0.01)
    assert call(server, "stop", step="make")[1]["make"]["state"] == "stopped"
    assert (folder / "cut" / "report.html").read_bytes() == before
    assert {path.name for path in folder.iterdir()} == {
        "cut", "job.toml", BEFORE_FILE, "outline.json",
    }  # fmt: skip
