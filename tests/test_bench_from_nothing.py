"""From an empty folder to papers in the browser, by keyboard: cards, photographs, cut lines."""

import pytest

pytest.importorskip("tomlkit", reason="the bench's extra is not installed")
pytest.importorskip("playwright", reason="Playwright is not installed")

from shapecut.bench.bench import Bench
from shapecut.bench.door import Door
from shapecut.capture.card_sheets import card_sheets_pdf
from shapecut.job.reading import read_job
from shapecut.job_folder import make_into
from tests.practice import SCENES
from tests.test_bench import served, without_dates
from tests.test_bench_in_browser import (
    SIZES,
    chromium,  # noqa: F401
    opened,  # noqa: F401
    step_to,
    tab_to,
    until,
    violations,
)
from tests.test_bench_photographs import picture, upload

NOTCHED = next(scene for scene in SCENES if scene.name == "notched_two")


@pytest.fixture
def folder(tmp_path):
    return tmp_path / "boathouse"


@pytest.fixture
def server(folder):
    with served(Bench(folder)) as server:
        yield server


@pytest.fixture
def begun(opened):  # noqa: F811
    """Opens the bench on an empty folder and starts a job."""

    def at(size="desk"):
        page = opened(size, shows="#begin-form")
        page.on("filechooser", lambda _: None)  # asked for now: a key may be faster than the asking
        page.wait_for_selector("#begin-title")
        page.keyboard.press("Control+A")
        page.keyboard.type("Boathouse step")
        page.keyboard.press("Enter")
        page.wait_for_selector("#drop")
        return page

    return at


def add_photographs(page, *files):
    """Choose files by keyboard."""
    tab_to(page, "choose-photos")
    with page.expect_file_chooser() as asked:
        page.keyboard.press("Enter")
    asked.value.set_files(files)


def says(name, words):
    return f"document.getElementById('{name}').textContent.includes('{words}')"


def type_into(page, name, text):
    tab_to(page, name)
    page.keyboard.press("Control+A")
    page.keyboard.type(text)
    page.keyboard.press("Tab")


def test_from_an_empty_folder_to_the_command_lines_drawing(begun, folder, tmp_path):
    page = begun()
    tab_to(page, "cards-link")
    with page.expect_download() as saved:
        page.keyboard.press("Enter")
    assert saved.value.path().read_bytes() == card_sheets_pdf(size="half", page="A4", count=6)

    add_photographs(page, *NOTCHED.photo_paths)
    page.wait_for_selector("#remove-1", timeout=60_000)
    until(page, says("verdict", "another print"), seconds=60)  # they are not our cards
    tab_to(page, "cards-kind")
    page.keyboard.press("ArrowDown")  # from our cards to others
    type_into(page, "own-side", "100 mm")
    until(page, says("verdict", "Fit to measure by"), seconds=60)
    assert page.locator("#photo-list .mark").count() == 10
    type_into(page, "template-thickness", "4 mm")

    step_to(page, "outline")
    page.wait_for_selector("#outline-onward", timeout=120_000)
    step_to(page, "edges")
    until(page, "document.querySelectorAll('#edge-choices select').length === 12")
    tab_to(page, "edge-E2")
    page.keyboard.press("ArrowUp")  # from covered to wall
    until(page, "document.querySelector('.edge.wall[data-drawn=E2]') !== null")
    step_to(page, "boards")
    type_into(page, "boards-gap", "6 mm")
    until(page, "document.getElementById('boards-gap').value === '6 mm'")
    step_to(page, "papers")
    tab_to(page, "make-start")
    page.keyboard.press("Enter")
    page.wait_for_selector("#paper-list a", timeout=180_000)
    with page.expect_download() as saved:
        page.get_by_role("link", name="boards.dxf", exact=True).press("Enter")

    job = read_job(folder)
    assert job.template.photos == ("photo-1.jpg", "photo-2.jpg")
    assert (job.edges["E2"], job.boards.gap) == ("wall", 6.0)
    make_into(folder, tmp_path / "by-hand", replace=False)
    by_hand = (tmp_path / "by-hand" / "boards.dxf").read_bytes()
    assert without_dates(saved.value.path().read_bytes()) == without_dates(by_hand)


def test_what_is_no_photograph_is_told_by_its_name(begun, folder, tmp_path):
    page = begun()
    (tmp_path / "notes.jpg").write_text("mind the post")
    add_photographs(page, tmp_path / "notes.jpg")
    until(page, says("refused", "notes.jpg was not taken up"))
    assert read_job(folder).template.photos == ()


def test_a_photograph_is_dropped_and_removed(begun, folder):
    page = begun()
    page.evaluate(
        """bytes => {
          const data = new DataTransfer();
          data.items.add(new File([new Uint8Array(bytes)], "one.jpg"));
          const event = new DragEvent("drop", { dataTransfer: data, bubbles: true });
          document.getElementById("drop").dispatchEvent(event);
        }""",
        list(picture()),
    )
    page.wait_for_selector("#remove-0")
    assert read_job(folder).template.photos == ("photo-1.jpg",)
    tab_to(page, "remove-0")
    page.keyboard.press("Enter")
    page.wait_for_selector("#remove-0", state="detached")
    assert read_job(folder).template.photos == ()


def test_a_photograph_from_a_phone_comes_up_at_the_desk(begun, server):
    page = begun()
    upload(server, picture())  # by another device
    page.wait_for_selector("#remove-0")


def test_looking_for_cards_is_cancelled_and_begun_again(begun):
    page = begun()
    add_photographs(page, *NOTCHED.photo_paths)
    page.wait_for_selector("#check-stop", timeout=60_000)
    tab_to(page, "check-stop")
    page.keyboard.press("Enter")
    until(page, says("check-progress", "Cancelled"))
    page.wait_for_timeout(3000)
    assert page.locator("#verdict").text_content() == ""
    tab_to(page, "check-start")
    page.keyboard.press("Enter")
    until(page, says("verdict", "another print"), seconds=60)


@pytest.mark.parametrize("size", SIZES)
def test_axe_core_objects_to_nothing_on_the_way(opened, begun, size):  # noqa: F811
    page = opened(size, shows="#begin-form")
    page.wait_for_selector("#begin-title")
    assert violations(page) == []
    page = begun(size)
    assert violations(page) == []
    add_photographs(page, *NOTCHED.photo_paths)
    until(page, "document.querySelectorAll('#photo-list .mark').length > 0", seconds=60)
    tab_to(page, "cards-kind")
    page.keyboard.press("ArrowDown")  # from our cards to others
    assert violations(page) == []
    assert page.evaluate("document.documentElement.scrollWidth") == SIZES[size][0]


@pytest.fixture
def at_the_door(chromium, server):  # noqa: F811
    """A page at the door, and the codes that the terminal showed."""
    codes = []
    server.door = Door(codes.append)
    page = chromium.new_page(viewport=dict(zip(("width", "height"), SIZES["phone"], strict=True)))
    page.goto(f"{server.gate.place}/")
    page.wait_for_selector("#code")
    yield page, codes
    page.close()


def test_axe_core_objects_to_nothing_at_the_door(at_the_door):
    assert violations(at_the_door[0]) == []


def test_a_phone_comes_in_by_the_code(at_the_door):
    page, codes = at_the_door
    page.keyboard.type("wrong")
    page.keyboard.press("Enter")
    until(page, says("said", "terminal"))
    page.locator("#code").fill(codes[0].lower())
    page.keyboard.press("Enter")
    page.wait_for_selector("#begin-form")
