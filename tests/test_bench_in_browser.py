"""A sitting at the bench in Chromium: by keyboard, by pointing, at desk and phone width.

Needs Chromium, and for one test axe-core's script (see `report_in_browser`).
"""

import time

import pytest

pytest.importorskip("tomlkit", reason="the bench's extra is not installed")
pytest.importorskip("playwright", reason="Playwright is not installed")

from playwright.sync_api import sync_playwright

from shapecut.bench.server import BenchServer
from shapecut.job.reading import read_job
from shapecut.job_folder import make_into
from tests.report_in_browser import Browser, axe_source
from tests.test_bench import folder, server, without_dates  # noqa: F401

FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]

SIZES = {"phone": (390, 844), "desk": (1280, 900)}


@pytest.fixture(scope="module")
def chromium(tmp_path_factory):
    found = Browser.found(tmp_path_factory.mktemp("browser"))
    if not found:
        pytest.skip("no Chromium is installed")
    with sync_playwright() as running:
        browser = running.chromium.launch(executable_path=found.program, args=FLAGS)
        yield browser
        browser.close()


def is_fault(said):
    """Refused changes (422) are the person's, and said on the page."""
    return said.type == "error" and "422" not in said.text


@pytest.fixture
def opened(chromium, server: BenchServer):  # noqa: F811
    """Opens the bench at a width; what goes wrong in the page fails the test."""
    pages, wrong = [], []

    def at(size="desk", shows=".piece"):
        width, height = SIZES[size]
        page = chromium.new_page(viewport={"width": width, "height": height})
        page.on("pageerror", lambda error: wrong.append(str(error)))
        page.on("console", lambda said: wrong.append(said.text) if is_fault(said) else None)
        page.on(
            "request",
            lambda asked: (
                None
                if asked.url.startswith(f"http://127.0.0.1:{server.gate.port}/")
                else wrong.append(asked.url)
            ),
        )
        page.goto(server.gate.address)
        page.wait_for_selector(shows, state="attached")
        pages.append(page)
        return page

    yield at
    for page in pages:
        page.close()
    assert wrong == []


def until(page, true, given=None, *, seconds=20):
    """Wait until an expression, or a function of what is given, is true in the page.

    Playwright's own wait would need `eval`, which the page forbids.
    """
    deadline = time.monotonic() + seconds
    while not page.evaluate(true, given):
        assert time.monotonic() < deadline, f"never came true: {true}"
        page.wait_for_timeout(30)


def tab_to(page, name):
    """Press Tab until the field of that name, or the link to that step, is reached."""
    page.wait_for_timeout(200)  # what was changed before is shown again first
    for _ in range(200):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.id || document.activeElement.hash") == name:
            return
    raise AssertionError(f"{name} cannot be reached by Tab")


def step_to(page, step):
    """Go to a step by keyboard."""
    tab_to(page, f"#{step}")
    page.keyboard.press("Enter")
    page.wait_for_selector(f"[data-step={step}]:not([hidden])")


def test_a_whole_sitting_by_keyboard_makes_the_command_lines_drawing(opened, folder, tmp_path):  # noqa: F811
    page = opened()
    step_to(page, "edges")
    tab_to(page, "edge-E4")
    page.keyboard.press("ArrowDown")  # from covered to exposed
    page.wait_for_selector(".edge.exposed[data-drawn=E4]", state="attached")
    step_to(page, "boards")
    tab_to(page, "boards-gap")
    page.keyboard.press("Control+A")
    page.keyboard.type("6 mm")
    page.keyboard.press("Tab")
    until(page, "!document.getElementById('undo').disabled")
    page.locator("#start-rule").select_option("E6")
    page.wait_for_selector("#start-at")
    tab_to(page, "start-at")
    page.keyboard.press("PageUp")
    until(page, "document.getElementById('start-at').value > 0")
    step_to(page, "papers")
    tab_to(page, "make-start")
    page.keyboard.press("Enter")
    page.wait_for_selector("#paper-list a", timeout=60_000)
    with page.expect_download() as saved:
        page.get_by_role("link", name="boards.dxf", exact=True).press("Enter")

    job = read_job(folder)
    assert job.edges["E4"] == "exposed"
    assert job.boards.gap == 6.0
    assert job.boards.start.taped_mm > 0
    make_into(folder, tmp_path / "by-hand", replace=False)
    by_hand = (tmp_path / "by-hand" / "boards.dxf").read_bytes()
    assert without_dates(saved.value.path().read_bytes()) == without_dates(by_hand)


def test_pointing_at_an_edge_leads_to_its_choice(opened):
    page = opened()
    box = page.locator("[data-edge=E1].reach").bounding_box()
    page.mouse.click(box["x"] + box["width"] / 2, box["y"] + box["height"] / 4)
    assert page.evaluate("document.activeElement.id") == "edge-E1"


def test_rows_follow_the_drag_and_undo_brings_them_back(opened, folder):  # noqa: F811
    page = opened()
    step_to(page, "boards")
    page.locator("#start-rule").select_option("E6")
    page.wait_for_selector("#start-at")
    first = page.locator(".piece").nth(3)
    path, box = first.get_attribute("d"), first.bounding_box()
    x, y = box["x"] + box["width"] / 3, box["y"] + box["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x, y - 6, steps=3)
    until(page, "was => document.querySelectorAll('.piece')[3].getAttribute('d') !== was", path)
    assert read_job(folder).boards.start.taped_mm is None  # nothing is written while dragging
    page.mouse.up()
    until(page, "document.getElementById('start-at').value > 0")
    assert read_job(folder).boards.start.taped_mm > 0
    page.locator("#undo").click()
    until(page, "was => document.querySelectorAll('.piece')[3].getAttribute('d') === was", path)
    assert read_job(folder).boards.start.taped_mm is None


def test_a_mistake_is_said_and_the_field_is_as_it_was(opened):
    page = opened()
    step_to(page, "boards")
    page.locator("#boards-gap").fill("900 mm")
    page.locator("#boards-gap").press("Tab")
    until(page, "document.getElementById('wrong').textContent.includes('900 mm')")
    assert page.locator("#boards-gap").input_value() == "5 mm"


def test_what_changes_elsewhere_is_taken_up_but_not_while_one_types(opened, folder):  # noqa: F811
    page = opened()
    step_to(page, "boards")
    tab_to(page, "boards-gap")
    page.keyboard.press("Control+A")
    page.keyboard.type("7")
    text = (folder / "job.toml").read_text()
    (folder / "job.toml").write_text(text.replace("Terrace", "Deck"))
    page.wait_for_timeout(3000)
    page.keyboard.type(" mm")
    assert page.locator("#boards-gap").input_value() == "7 mm"
    page.keyboard.press("Tab")
    until(page, "document.title === 'Deck by the pond'")
    until(page, "document.getElementById('boards-gap').value === '7 mm'")
    assert read_job(folder).title == "Deck by the pond"
    assert read_job(folder).boards.gap == 7.0


def test_a_job_file_spoilt_by_hand_is_told_and_mended_by_undo(opened, folder):  # noqa: F811
    page = opened()
    (folder / "job.toml").write_text("title = ")
    until(page, "document.getElementById('wrong').textContent.includes('not TOML')")
    assert not page.locator("nav").is_visible()
    page.locator("#undo").click()
    page.wait_for_selector("nav", state="visible")


STEPS = ["photographs", "outline", "edges", "boards", "supports", "buy", "papers"]


@pytest.mark.parametrize("size", SIZES)
def test_axe_core_objects_to_no_step_and_none_scrolls_sideways(opened, size):
    page = opened(size)
    for step in STEPS:
        page.goto(f"{page.url.split('#')[0]}#{step}")
        page.wait_for_selector(f"[data-step={step}]:not([hidden])")
        assert page.evaluate("document.documentElement.scrollWidth") == SIZES[size][0], step
        assert violations(page) == [], step


def violations(page):
    """What axe-core objects to; skips the test where it is not installed."""
    axe = axe_source()
    if not axe:
        pytest.skip("axe-core is not installed")
    page.evaluate("scrollTo(0, 0)")  # else the steps' names lie over what is scrolled below them
    page.evaluate(axe.read_text("utf-8"))
    return page.evaluate(
        "axe.run(document, {rules: {'target-size': {enabled: true}}}).then(found => "
        "found.violations.map(one => [one.id, one.nodes.map(node => node.html)]))"
    )
