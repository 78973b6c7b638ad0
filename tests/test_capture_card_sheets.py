"""The printed sheets as pdfium draws them: marks and check bars at their places, all legible."""

from functools import cache

import cv2
import numpy as np
import pypdfium2 as pdfium
import pytest

from shapecut.capture.card_sheets import PAPERS_MM, card_sheets_pdf
from shapecut.capture.card_sizes import CARD_SIZES, OWN_DICTIONARY
from shapecut.capture.cards import our_cards
from shapecut.capture.patterns import mark_cells, opencv_dictionary
from shapecut.errors import UsageError

DPI = 300
CARDS = our_cards()
SHEETS = [(size, page) for size in CARD_SIZES for page in PAPERS_MM]

pytestmark = pytest.mark.filterwarnings("error")


@cache
def pdf(size: str, page: str) -> bytes:
    return card_sheets_pdf(size=size, page=page, count=1 + np.prod(CARD_SIZES[size].grid))


@cache
def drawn(size: str, page: str, sheet: int = 0, dpi: float = DPI) -> np.ndarray:
    """Darkness of one sheet, 0 for white paper and 1 for black, rows from the top."""
    with pdfium.PdfDocument(pdf(size, page)) as document:
        picture = document[sheet].render(scale=dpi / 72, grayscale=True).to_numpy()
    return 1 - picture.reshape(picture.shape[:2]) / 255


def mm_per_px(page: str) -> np.ndarray:
    """(x, y); pdfium stretches the page to whole pixels, so this is not quite 25.4 / 300."""
    rows, columns = drawn("half", page).shape
    return np.array(PAPERS_MM[page]) / (columns, rows)


@cache
def detected(size: str, page: str, sheet: int = 0) -> dict[int, np.ndarray]:
    """Mark number -> (4, 2) corners in mm, x right and y down from the paper's top left."""
    grey = ((1 - drawn(size, page, sheet)) * 255).astype(np.uint8)
    detector = cv2.aruco.ArucoDetector(opencv_dictionary(OWN_DICTIONARY))
    corners, numbers, _ = detector.detectMarkers(grey)
    # Corner coordinates are those of the outermost black pixels' centres.
    outwards = np.array([(-0.5, -0.5), (0.5, -0.5), (0.5, 0.5), (-0.5, 0.5)])
    return {
        int(number): (quad[0] + outwards + 0.5) * mm_per_px(page)
        for number, quad in zip(numbers.ravel(), corners, strict=True)
    }


def cards_on(marks: dict[int, np.ndarray]) -> dict[str, dict[int, np.ndarray]]:
    """Card name -> its detected marks."""
    found: dict[str, dict[int, np.ndarray]] = {}
    for number, corners in marks.items():
        card, _ = CARDS.find(OWN_DICTIONARY, number)
        found.setdefault(card.name, {})[number] = corners
    return found


def stated(number: int) -> np.ndarray:
    """(4, 2) corners of a mark in its card's frame, y turned down."""
    return np.array(CARDS.find(OWN_DICTIONARY, number)[1].corners_mm) * [1, -1]


def centre_mm(marks: dict[int, np.ndarray]) -> np.ndarray:
    """The card's centre on the paper, from its four marks."""
    return np.mean([corners.mean(axis=0) for corners in marks.values()], axis=0)


@pytest.mark.parametrize(("size", "page"), SHEETS)
def test_paper_is_of_its_standard_size(size, page):
    with pdfium.PdfDocument(pdf(size, page)) as document:
        assert len(document) == 2
        for sheet in document:
            assert np.array(sheet.get_size()) / 72 * 25.4 == pytest.approx(
                np.array(PAPERS_MM[page]), abs=0.001
            )


@pytest.mark.parametrize(("size", "page"), SHEETS)
def test_every_mark_is_read_at_its_place_on_its_card(size, page):
    cards = cards_on(detected(size, page))
    per_sheet = int(np.prod(CARD_SIZES[size].grid))
    first = CARD_SIZES[size].numbers[0]
    assert set(cards) == {f"card {number}" for number in range(first, first + per_sheet)}
    for marks in cards.values():
        assert len(marks) == 4
        centre = centre_mm(marks)
        for number, corners in marks.items():
            assert np.abs(corners - centre - stated(number)).max() < 0.1


@pytest.mark.parametrize(("size", "page"), SHEETS)
def test_the_black_squares_have_their_stated_side(size, page):
    """Darkness summed along a mark's outer ring of cells gives its side well below a pixel.

    pdfium itself darkens the two horizontal edges by up to 0.13 px each, whatever the resolution.
    """
    darkness = drawn(size, page)
    side = CARD_SIZES[size].mark_mm
    half_cell = side / 16
    x_scale, y_scale = mm_per_px(page)
    for corners in detected(size, page).values():
        (left, top), (right, bottom) = corners[0] - half_cell, corners[2] + half_cell
        row, column = (
            round((top + 2 * half_cell) / y_scale),
            round((left + 2 * half_cell) / x_scale),
        )
        across = darkness[row, round(left / x_scale) : round(right / x_scale)].sum() * x_scale
        along = darkness[round(top / y_scale) : round(bottom / y_scale), column].sum() * y_scale
        assert across == pytest.approx(side, abs=0.005)
        assert along == pytest.approx(side, abs=0.26 * y_scale + 0.005)


def ticks(size: str, page: str, zero_mm: np.ndarray, direction: str, *, side: int) -> np.ndarray:
    """Places, mm from the zero, of the ticks of a check bar on one side of its line.

    Args:
        zero_mm: Where the bar begins on the paper, y down.
        direction: `across` runs right and `along` up.
        side: 1 for millimetres (left of the bar's direction), -1 for inches.
    """
    darkness, scale, zero = drawn(size, page), mm_per_px(page), np.array(zero_mm)
    if direction == "along":  # turn the sheet so that this bar runs right, too
        darkness, scale = np.rot90(darkness, -1), scale[::-1]
        zero = np.array([PAPERS_MM[page][1] - zero[1], zero[0]])
    first, last = (round((zero[0] + end) / scale[0]) for end in (-2.0, 104.0))
    profile = darkness[round((zero[1] - side) / scale[1]), first:last]
    edges = np.flatnonzero(np.diff(profile > 0.05, prepend=False, append=False))
    centres = [
        np.average(np.arange(low, high) + 0.5, weights=profile[low:high])
        for low, high in zip(edges[::2], edges[1::2], strict=True)
    ]
    return (np.array(centres) + first) * scale[0] - zero[0]


def zeros(size: str, page: str) -> list[tuple[str, np.ndarray]]:
    """(direction, place) of the zero of every check bar on the first sheet."""
    cards = cards_on(detected(size, page))
    if size == "small":
        x, y = centre_mm(cards["card 107"]) + np.array([-44, 30])  # lower left of the cards
        return [("across", np.array([x, y + 7])), ("along", np.array([x - 7, y]))]
    return [
        (direction, centre_mm(marks) + np.array(offset))
        for marks in cards.values()
        for direction, offset in (("across", (-50, 0)), ("along", (0, 50)))
    ]


@pytest.mark.parametrize(("size", "page"), SHEETS)
def test_check_bars_are_100_mm_and_4_in_long_in_both_directions(size, page):
    for direction, zero in zeros(size, page):
        mm = ticks(size, page, zero, direction, side=1)
        inches = ticks(size, page, zero, direction, side=-1)
        assert mm[-1] - mm[0] == pytest.approx(100.0, abs=0.1)
        assert inches[-1] - inches[0] == pytest.approx(101.6, abs=0.1)
        for tens in (10, 20, 30, 40, 60, 70, 80, 90):
            assert np.abs(mm - mm[0] - tens).min() < 0.1
        for inch in (1, 3):
            assert np.abs(inches - inches[0] - 25.4 * inch).min() < 0.1


@pytest.mark.parametrize(("size", "page"), SHEETS)
def test_the_check_bars_begin_where_the_card_says(size, page):
    for direction, zero in zeros(size, page):
        assert ticks(size, page, zero, direction, side=1)[0] == pytest.approx(0.0, abs=0.1)


@pytest.mark.parametrize(("size", "page"), SHEETS)
def test_each_card_says_its_number_once_for_either_side_of_the_bench(size, page):
    width, height = CARD_SIZES[size].width_mm, CARD_SIZES[size].height_mm
    paper_height = PAPERS_MM[page][1]
    with pdfium.PdfDocument(pdf(size, page)) as document:
        text = document[0].get_textpage()
        for name, marks in cards_on(detected(size, page)).items():
            x, y = centre_mm(marks)
            words = text.get_text_bounded(
                left=(x - width / 2) / 25.4 * 72,
                right=(x + width / 2) / 25.4 * 72,
                bottom=(paper_height - y - height / 2) / 25.4 * 72,
                top=(paper_height - y + height / 2) / 25.4 * 72,
            )
            alone = [line for line in words.splitlines() if line.isdecimal()]
            assert alone == [name.removeprefix("card ")] * 2
        assert "Print at 100 %" in text.get_text_range()


@pytest.mark.parametrize(("size", "page"), SHEETS)
def test_ink_keeps_to_where_common_printers_print(size, page):
    margin = round(6.35 / 25.4 * DPI)
    inside = drawn(size, page)[margin:-margin, margin:-margin]
    assert drawn(size, page).sum() == pytest.approx(inside.sum())


@pytest.mark.parametrize("dpi", [61.0, 97.0, 131.0, 201.0])
def test_no_seams_show_between_black_cells_at_any_zoom(dpi):
    """A pixel that lies with all its neighbours in black must be black."""
    number = 0
    px_per_mm = dpi / 25.4
    left, top = centre_mm(cards_on(detected("half", "A4"))["card 1"]) + stated(number)[0]
    columns, rows = (np.arange(int(p * px_per_mm), (p + 48) * px_per_mm) for p in (left, top))
    darkness = drawn("half", "A4", dpi=dpi)[np.ix_(rows.astype(int), columns.astype(int))]

    def cell(pixels: np.ndarray, start_mm: float, reach: float) -> np.ndarray:
        place = (pixels + 0.5 + reach) / px_per_mm - start_mm
        return np.clip(np.floor(place / 6.0), 0, 7).astype(int)

    cells = mark_cells(OWN_DICTIONARY, number)
    reaches = (-1.5, -0.5, 0.5, 1.5)
    inside = np.all(
        [
            cells[np.ix_(cell(rows, top, v), cell(columns, left, h))]
            for v in reaches
            for h in reaches
        ],
        axis=0,
    )
    inside[:2], inside[-2:], inside[:, :2], inside[:, -2:] = False, False, False, False
    assert inside.mean() > 0.3
    assert darkness[inside].min() == 1.0


def test_the_last_sheet_is_filled_as_far_as_there_are_cards():
    assert set(cards_on(detected("half", "A4", sheet=1))) == {"card 3"}
    assert set(cards_on(detected("small", "A4", sheet=1))) == {"card 109"}


def test_the_same_request_gives_the_same_bytes():
    request = {"size": "half", "page": "Letter", "first": 7, "count": 3}
    assert card_sheets_pdf(**request) == card_sheets_pdf(**request)


def test_a_print_dialogue_is_asked_not_to_scale():
    assert b"/PrintScaling /None" in card_sheets_pdf(count=1)


@pytest.mark.parametrize(
    ("request_", "sentence"),
    [
        ({"size": "huge"}, 'no card size "huge": choose small, half, full'),
        ({"page": "A5"}, 'not made for "A5" paper: choose A4 or Letter'),
        ({"count": 0}, "0 cards from number 1 on .* half cards are numbered 1 to 50"),
        ({"first": 49, "count": 3}, "3 cards from number 49 on"),
        ({"first": 0, "count": 3}, "3 cards from number 0 on"),
        ({"size": "full", "first": 3}, "full cards are numbered 51 to 100"),
    ],
)
def test_what_cannot_be_printed_is_refused(request_, sentence):
    with pytest.raises(UsageError, match=sentence):
        card_sheets_pdf(**request_)
