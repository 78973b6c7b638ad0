"""The report in a browser: no objection of axe-core's, nothing fetched, printable, light.

Needs Chromium, and for the first test axe-core's script (`npm install axe-core`, or the variable
AXE_CORE naming the file).
"""

from pathlib import Path

import pypdfium2 as pdfium
import pytest

from shapecut.job_folder import make_into
from shapecut.papers.report import ReportSettings, report_html
from tests import plan_by_hand
from tests.report_in_browser import Browser, axe_source
from tests.test_papers_report import drawn_over, grey_photo, survey

LARGEST_BYTES = 1_500_000

PHONE_PX, DESK_PX = 390, 1280


@pytest.fixture(scope="module")
def browser(tmp_path_factory):
    found = Browser.found(tmp_path_factory.mktemp("browser"))
    if not found:
        pytest.skip("no Chromium is installed")
    return found


@pytest.fixture(scope="module")
def page(tmp_path_factory):
    html = report_html(
        title="Step by the pond",
        outline=plan_by_hand.outline(),
        layout=plan_by_hand.layout(),
        plan=plan_by_hand.cut_plan(),
        overlays=drawn_over(grey_photo()),
        survey=survey(),
        settings=ReportSettings(currency="EUR"),
    )
    path = tmp_path_factory.mktemp("report") / "report.html"
    path.write_text(html, "utf-8")
    return path


@pytest.fixture(scope="module")
def terrace(tmp_path_factory):
    """The report of a job with joists, a border, fascia, lights and strips."""
    example = Path(__file__).parent.parent / "examples" / "pond_terrace"
    cut = tmp_path_factory.mktemp("terrace") / "cut"
    make_into(example, cut, replace=False)
    return cut / "report.html"


@pytest.mark.parametrize("width_px", [PHONE_PX, DESK_PX])
@pytest.mark.parametrize("which", ["page", "terrace"])
def test_axe_core_objects_to_nothing(browser, which, width_px, request):
    axe = axe_source()
    if not axe:
        pytest.skip("axe-core is not installed")
    assert browser.violations(request.getfixturevalue(which), axe, width_px=width_px) == []


@pytest.mark.parametrize("which", ["page", "terrace"])
def test_a_phone_scrolls_down_and_not_sideways(browser, which, request):
    """Wide tables scroll by themselves."""
    page = request.getfixturevalue(which)
    width, shown = browser.widths(page, width_px=PHONE_PX)
    assert (shown, width) == (PHONE_PX, PHONE_PX)


def test_axe_core_would_object(browser, page, tmp_path):
    """The same check finds a picture without words and a language left out."""
    axe = axe_source()
    if not axe:
        pytest.skip("axe-core is not installed")
    spoilt = tmp_path / "spoilt.html"
    html = page.read_text("utf-8").replace(' lang="en"', "").replace('alt="', 'data-alt="')
    spoilt.write_text(html, "utf-8")
    rules = {found["rule"] for found in browser.violations(spoilt, axe, width_px=DESK_PX)}
    assert {"html-has-lang", "image-alt"} <= rules


def test_nothing_is_fetched(browser, page):
    assert browser.fetched(page) == []


def test_a_fetch_would_be_seen(browser, page, tmp_path):
    fetching = tmp_path / "fetching.html"
    picture = '<img alt="" src="http://127.0.0.1:9/picture.png"></main>'
    fetching.write_text(page.read_text("utf-8").replace("</main>", picture), "utf-8")
    assert browser.fetched(fetching) == ["http://127.0.0.1:9/picture.png"]


def test_it_prints_on_a_few_pages_and_is_light(browser, page):
    printed = pdfium.PdfDocument(browser.pdf(page))
    text = " ".join(sheet.get_textpage().get_text_range() for sheet in printed)

    assert 2 <= len(printed) <= 5
    assert "Order of installation" in text
    assert "Cut cards" in text
    assert page.stat().st_size < LARGEST_BYTES


def test_a_terrace_prints_on_fewer_pages_than_it_has_pieces(browser, terrace):
    assert len(pdfium.PdfDocument(browser.pdf(terrace))) < 20
