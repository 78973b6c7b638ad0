"""Photographs at the bench: from no job at all to photographs taken up, checked and removed."""

import io
import json
import time
from concurrent.futures import ThreadPoolExecutor

import numpy as np
import pytest
from PIL import Image

pytest.importorskip("tomlkit", reason="the bench's extra is not installed")

from shapecut.bench import photo_files
from shapecut.bench.bench import Bench
from shapecut.capture.card_sheets import card_sheets_pdf
from shapecut.job.new_job import job_text
from shapecut.job.reading import read_job
from tests.practice import SCENES
from tests.practice_marks import mark_corners_px
from tests.test_bench import ask, call, progress, served

NOTCHED = next(scene for scene in SCENES if scene.name == "notched_two")


@pytest.fixture
def folder(tmp_path):
    return tmp_path / "steps"


@pytest.fixture
def server(folder):
    with served(Bench(folder)) as server:
        yield server


@pytest.fixture
def begun(server, folder):
    status, shown = call(server, "begin", title="Steps", units="mm", pictures=False)
    assert (status, shown["title"]) == (200, "Steps")
    return server


def picture(seed=0, kind="JPEG", size=(480, 360)):
    """A picture without cards; each seed another."""
    pixels = np.random.default_rng(seed).integers(0, 255, (size[1], size[0], 3), np.uint8)
    stream = io.BytesIO()
    Image.fromarray(pixels).save(stream, kind)
    return stream.getvalue()


def upload(server, data, **headers):
    status, _, answer = ask(server, "POST", "/photograph", data, **headers)
    return status, json.loads(answer)


def shown(server):
    return json.loads(ask(server, "GET", "/call/job")[2])


def files(folder):
    return sorted(path.name for path in folder.iterdir() if path.name != "job.before.toml")


def test_a_new_folder_is_offered_a_job_which_is_the_one_of_the_command_line(server, folder):
    assert shown(server) == {"beginning": {"title": "steps", "pictures": []}}
    assert not folder.exists()
    status, job = call(server, "begin", title=" Steps by the pond ", units="in", pictures=False)
    assert (status, job["title"]) == (200, "Steps by the pond")
    assert (folder / "job.toml").read_text() == job_text("Steps by the pond", units="in")


def test_photographs_that_lie_in_the_folder_become_the_jobs(server, folder):
    folder.mkdir()
    (folder / "IMG_2.JPG").write_bytes(picture())
    (folder / "notes.txt").write_text("mind the post")
    (folder / "one\n.jpg").write_bytes(picture())  # the job file could not list it
    assert shown(server)["beginning"]["pictures"] == ["IMG_2.JPG"]
    call(server, "begin", title="Steps", units="mm", pictures=True)
    assert read_job(folder).template.photos == ("IMG_2.JPG",)


@pytest.mark.parametrize(
    "values",
    [
        {},
        {"title": "", "units": "mm", "pictures": False},
        {"title": "x" * 201, "units": "mm", "pictures": False},
        {"title": "Steps", "units": "cubits", "pictures": False},
        {"title": ["Steps"], "units": "mm", "pictures": False},
    ],
)
def test_a_job_that_cannot_be_is_not_begun(server, folder, values):
    status, answer = call(server, "begin", **values)
    assert status == 422
    assert answer["wrong"]
    assert not folder.exists()


def test_without_a_job_nothing_else_is_answered(server, folder):
    assert call(server, "change", edits=[])[0] == 422
    assert upload(server, picture())[0] == 422
    assert ask(server, "GET", "/papers.zip")[0] == 422
    assert not folder.exists()


def test_beginning_twice_keeps_the_first_job(begun, folder):
    call(begun, "begin", title="Other", units="in", pictures=False)
    assert read_job(folder).title == "Steps"


def test_the_cards_are_those_of_the_command_line(server):
    status, headers, data = ask(server, "GET", "/cards.pdf?size=small&page=Letter&count=8")
    assert status == 200
    assert headers["Content-Disposition"].startswith("attachment")
    assert data == card_sheets_pdf(size="small", page="Letter", count=8)
    for asked in ("size=huge&page=A4&count=6", "size=half&page=A4&count=4000", "count=x", "size"):
        assert ask(server, "GET", f"/cards.pdf?{asked}")[0] == 422


@pytest.mark.parametrize(("kind", "name"), [("JPEG", "photo-1.jpg"), ("PNG", "photo-1.png")])
def test_a_photograph_is_taken_up_under_a_name_of_our_own(begun, folder, kind, name):
    data, text = picture(kind=kind), (folder / "job.toml").read_text()
    traversal = {"Content_Disposition": 'attachment; filename="../../job.toml"'}
    assert upload(begun, data, **traversal) == (200, {"name": name})
    assert (folder / name).read_bytes() == data
    assert (folder / "job.toml").read_text() == text.replace("photos = []", f'photos = ["{name}"]')


def test_a_typed_outline_gives_way_to_the_first_photograph(begun, folder):
    text = job_text("Steps", outline="outline.json")
    (folder / "job.toml").write_text(text)
    assert "outline.json" in shown(begun)["photographs"]["given"]
    upload(begun, picture())
    template = read_job(folder).template
    assert (template.photos, template.outline) == (("photo-1.jpg",), None)
    call(begun, "undo")
    assert (folder / "job.toml").read_text() == text


def test_the_list_of_photographs_keeps_its_notes(begun, folder):
    text = (folder / "job.toml").read_text()
    listed = 'photos = [\n    "old.jpg",  # from the door\n    # the other one is blurred\n]'
    (folder / "job.toml").write_text(text.replace("photos = []", listed))
    upload(begun, picture())
    longer = listed.replace(
        "# the other one is blurred\n", '# the other one is blurred\n    "photo-1.jpg"\n'
    )
    assert (folder / "job.toml").read_text() == text.replace("photos = []", longer)
    call(begun, "remove-photo", photo="photo-1.jpg")
    assert (folder / "job.toml").read_text() == text.replace("photos = []", listed)


def test_a_removed_photograph_leaves_the_list_and_comes_back_by_undo(begun, folder):
    upload(begun, picture(1))
    upload(begun, picture(2))
    _, after = call(begun, "remove-photo", photo="photo-1.jpg")
    assert after["photographs"]["names"] == ["photo-2.jpg"]
    for wrong in ("photo-1.jpg", "../job.toml", "", 0, None):
        assert call(begun, "remove-photo", photo=wrong)[0] == 422
    call(begun, "undo")
    assert read_job(folder).template.photos == ("photo-1.jpg", "photo-2.jpg")
    call(begun, "remove-photo", photo="photo-1.jpg")
    assert upload(begun, picture(1)) == (200, {"name": "photo-1.jpg"})  # it was there still
    assert upload(begun, picture(3)) == (200, {"name": "photo-3.jpg"})


def test_a_photograph_counts_once(begun, folder):
    upload(begun, picture())
    status, answer = upload(begun, picture())
    assert status == 422
    assert "once" in answer["wrong"]
    assert files(folder) == ["job.toml", "photo-1.jpg"]


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b"", "not a JPEG"),
        (b"hello", "not a JPEG"),
        (picture()[:3000], "cut short"),
        (picture(size=(200, 200)), "too few"),
        (b"<svg xmlns='http://www.w3.org/2000/svg'/>", "not a JPEG"),
    ],
    ids=["nothing", "text", "cut short", "small", "svg"],
)
def test_a_refused_file_leaves_nothing_behind(begun, folder, data, says):
    before = (folder / "job.toml").read_bytes()
    status, answer = upload(begun, data)
    assert status == 422
    assert says in answer["wrong"]
    assert str(folder) not in answer["wrong"]
    assert files(folder) == ["job.toml"]
    assert (folder / "job.toml").read_bytes() == before


def test_a_mistaken_job_file_takes_no_photograph_up(begun, folder):
    (folder / "job.toml").write_text("[template]\nphotos = []\n")
    assert upload(begun, picture())[0] == 422
    assert files(folder) == ["job.toml"]


def test_photographs_are_limited_in_number(begun, folder, monkeypatch):
    monkeypatch.setattr(photo_files, "MOST_PHOTOS", 2)
    assert [upload(begun, picture(seed))[0] for seed in range(3)] == [200, 200, 422]
    assert files(folder) == ["job.toml", "photo-1.jpg", "photo-2.jpg"]


def test_a_full_disk_takes_no_photograph_up(begun, folder, monkeypatch):
    monkeypatch.setattr(photo_files, "SPARE_ROOM", 1 << 60)
    status, answer = upload(begun, picture())
    assert (status, "disk is full" in answer["wrong"]) == (422, True)
    assert files(folder) == ["job.toml"]


def test_twenty_photographs_at_once_are_all_taken_up(begun, folder):
    with ThreadPoolExecutor(20) as clients:
        answers = list(clients.map(lambda seed: upload(begun, picture(seed)), range(20)))
    assert {status for status, _ in answers} == {200}
    names = {answer["name"] for _, answer in answers}
    assert len(names) == 20
    assert set(read_job(folder).template.photos) == names


def checked(server):
    """The check of the photographs, once it has ended."""
    call(server, "start", step="check")
    while progress(server, "check")["state"] == "running":
        time.sleep(0.05)
    return shown(server)["photographs"]


def test_the_cards_that_were_found_are_shown_where_they_are(begun):
    for path in NOTCHED.photo_paths:
        upload(begun, path.read_bytes())
    assert shown(begun)["photographs"]["unchecked"]
    own = [["cards.own", "dictionary", "AprilTag 36h11"], ["cards.own", "side", "100 mm"]]
    call(begun, "change", edits=own)
    step = checked(begun)
    check = step["check"]
    assert check["measurable"]
    assert any("tape" in line for line in check["outlook"])
    for number, photo in enumerate(check["photos"]):
        assert "5 cards seen" in photo["words"]
        true = mark_corners_px(NOTCHED, number)
        for name, corners in photo["marks"]:
            off = np.mean(corners, axis=0) - true[int(name.removeprefix("mark "))].mean(axis=0)
            assert np.abs(off).max() < 1.0

    start, end = check["tape"]
    call(begun, "tape", start=start, end=end, length="1432 mm")
    taped = {"between": [start, end], "length": "1432 mm"}
    assert shown(begun)["photographs"]["tapes"] == [taped]
    assert checked(begun)["check"]["outlook"] != check["outlook"]
    call(begun, "change", edits=[["cards.own", "side", "99 mm"]])
    assert "check" not in shown(begun)["photographs"]  # it was of other cards


def test_tapes_between_cards_are_stated_replaced_and_taken_back(begun, folder):
    text = (folder / "job.toml").read_text()
    call(begun, "tape", start="card 1", end="card 4", length="1260 mm")
    call(begun, "tape", start="card 2", end="card 4", length="1.1 m")
    call(begun, "tape", start="card 4", end="card 1", length="1262 mm")
    tapes = read_job(folder).cards.tapes
    assert [(tape.between, tape.length) for tape in tapes] == [
        (("card 2", "card 4"), 1100.0),
        (("card 4", "card 1"), 1262.0),
    ]
    for wrong in (
        {"start": "card 1", "end": "card 1", "length": "1 m"},
        {"start": "card 1", "end": "card 2", "length": "far"},
        {"start": "card 1", "end": 2, "length": "1 m"},
    ):
        assert call(begun, "tape", **wrong)[0] == 422
    call(begun, "untape", start="card 1", end="card 4")
    call(begun, "untape", start="card 2", end="card 4")
    assert call(begun, "untape", start="card 2", end="card 4")[0] == 422
    assert (folder / "job.toml").read_text() == text


def test_a_photograph_without_cards_is_named(begun):
    upload(begun, NOTCHED.photo_paths[0].read_bytes())
    upload(begun, picture())
    own = [["cards.own", "dictionary", "AprilTag 36h11"], ["cards.own", "side", "100 mm"]]
    call(begun, "change", edits=own)
    check = checked(begun)["check"]
    assert [photo["good"] for photo in check["photos"]] == [True, False]
    assert "photo-2.jpg" in check["wrong"]
    assert not check["measurable"]
