"""Cards: which mark is on which card, where its corners are, and what OpenCV calls them."""

import cv2
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shapecut.capture.card_sizes import CARD_SIZES, OWN_DICTIONARY
from shapecut.capture.cards import (
    Card,
    CardSet,
    our_cards,
    single_mark_cards,
    square_mark,
)
from shapecut.capture.dictionaries import DICTIONARIES, find_dictionary
from shapecut.capture.patterns import mark_cells, opencv_dictionary
from shapecut.errors import CaptureError

NAMES = [dictionary.name for dictionary in DICTIONARIES]


@pytest.mark.parametrize("dictionary", DICTIONARIES, ids=NAMES)
def test_every_dictionary_has_the_marks_that_opencv_has(dictionary):
    assert len(opencv_dictionary(dictionary.name).bytesList) == dictionary.count


@pytest.mark.parametrize("name", NAMES)
def test_detection_lists_corners_in_the_order_of_the_upright_pattern(name):
    number, cell, margin = 7, 12, 40
    cells = mark_cells(name, number)
    picture = np.where(np.kron(cells, np.ones((cell, cell))), 0, 255).astype(np.uint8)
    picture = np.pad(picture, margin, constant_values=255)
    far = margin + cell * len(cells)
    corners, numbers, _ = cv2.aruco.ArucoDetector(opencv_dictionary(name)).detectMarkers(picture)

    assert numbers.ravel().tolist() == [number]
    upright = np.array([(margin, margin), (far, margin), (far, far), (margin, far)])
    assert np.abs(corners[0][0] - upright).max() < 2


def test_the_border_of_a_pattern_is_one_black_cell():
    cells = mark_cells("AprilTag 36h11", 0)
    assert cells.shape == (8, 8)
    border = cells.copy()
    border[1:-1, 1:-1] = True
    assert border.all()
    assert not cells.all()


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("AprilTag 36h11", "AprilTag 36h11"),
        ("apriltag_36H11", "AprilTag 36h11"),
        ("tag36h11", "AprilTag 36h11"),
        ("DICT_APRILTAG_36h11", "AprilTag 36h11"),
        ("ArUco 4x4 50", "ArUco 4x4 50"),
        ("aruco 4X4_50", "ArUco 4x4 50"),
        ("DICT_4X4_50", "ArUco 4x4 50"),
        ("DICT_4X4_1000", "ArUco 4x4 1000"),
        ("DICT_ARUCO_ORIGINAL", "ArUco original"),
        ("DICT_ARUCO_MIP_36h12", "ArUco MIP 36h12"),
    ],
)
def test_a_dictionary_is_known_in_any_usual_spelling(text, name):
    assert find_dictionary(text).name == name


@pytest.mark.parametrize(
    ("text", "nearest"), [("AprilTag 36h12x", "36h1"), ("aruco 4x4 51", "ArUco 4x4 50"), ("", "")]
)
def test_an_unknown_dictionary_is_answered_with_the_nearest(text, nearest):
    with pytest.raises(CaptureError, match=f'no mark dictionary "{text}".*nearest.*{nearest}'):
        find_dictionary(text)


def test_each_number_belongs_to_one_card_and_tells_its_size():
    cards = our_cards()
    assert cards.dictionaries == (OWN_DICTIONARY,)
    found = {number: cards.find(OWN_DICTIONARY, number) for number in range(587)}
    assert [number for number, hit in found.items() if hit is None] == [584, 585, 586]
    for size in CARD_SIZES.values():
        for card in size.numbers:
            for number, _ in size.marks(card):
                owner, mark = found[number]
                assert owner.name == f"card {card}"
                (x0, y0), (x1, y1) = mark.corners_mm[0], mark.corners_mm[2]
                assert (x1 - x0, y0 - y1) == (size.mark_mm, size.mark_mm)


@pytest.mark.parametrize("size", CARD_SIZES.values(), ids=list(CARD_SIZES))
def test_marks_keep_a_cell_of_white_to_the_cut_and_to_each_other(size):
    cell = size.mark_mm / 8
    x, y = size.reach_mm
    assert size.width_mm / 2 - (x + size.mark_mm / 2) >= cell
    assert size.height_mm / 2 - (y + size.mark_mm / 2) >= cell
    assert 2 * x - size.mark_mm >= 2 * cell
    assert 2 * y - size.mark_mm >= 2 * cell


def test_a_measured_print_scales_its_cards_in_both_directions():
    plain = our_cards().find(OWN_DICTIONARY, 9)[1].corners_mm
    printed = our_cards(along_mm=99.0, across_mm=101.0).find(OWN_DICTIONARY, 9)[1].corners_mm
    assert np.array(printed) == pytest.approx(np.array(plain) * [1.01, 0.99])


def test_the_print_scale_is_as_sure_as_its_least_sure_direction():
    assert our_cards().relative_u == 0.003
    assert our_cards(along_mm=100.0).relative_u == 0.003
    assert our_cards(along_mm=100.0, across_mm=99.5).relative_u == pytest.approx(0.001)


@pytest.mark.parametrize("measured", [94.0, 106.0, 0.0, -100.0, float("nan"), 3.94])
def test_a_check_bar_that_cannot_be_right_is_refused(measured):
    with pytest.raises(CaptureError, match=r"bar along the sheet .*100 mm was printed.*at 100 %"):
        our_cards(along_mm=measured)


def test_a_four_inch_bar_is_measured_against_four_inches():
    scaled = our_cards(along_mm=101.6, across_mm=101.6, bar_mm=101.6)
    assert scaled.cards == our_cards().cards


def test_every_mark_can_be_a_card_of_its_own():
    cards = single_mark_cards("tag36h11", 100.0)
    for number in (0, 7, 586):
        card, mark = cards.find("AprilTag 36h11", number)
        assert card.name == f"mark {number}"
        assert card.marks == (mark,)
        assert mark.corners_mm == ((-50, 50), (50, 50), (50, -50), (-50, -50))
    assert cards.find("AprilTag 36h11", 587) is None
    assert cards.find("ArUco 4x4 50", 7) is None
    assert cards.relative_u == pytest.approx(0.001)


@given(
    st.floats(-500, 500),
    st.floats(-500, 500),
    st.floats(-360, 360),
    st.floats(1, 300),
)
def test_a_turned_mark_stays_a_square_about_its_centre(x, y, turn, side):
    mark = square_mark("4x4_50", 3, side_mm=side, centre_mm=(x, y), turn_deg=turn)
    corners = np.array(mark.corners_mm)
    assert corners.mean(axis=0) == pytest.approx([x, y], abs=1e-9)
    top = corners[1] - corners[0]
    assert np.hypot(*top) == pytest.approx(side)
    assert top == pytest.approx(
        side * np.array([np.cos(np.radians(turn)), np.sin(np.radians(turn))]), abs=1e-9
    )
    left = corners[0] - corners[3]
    assert left == pytest.approx([-top[1], top[0]], abs=1e-9)


@pytest.mark.parametrize(
    ("number", "side", "sentence"),
    [
        (50, 40.0, "ArUco 4x4 50 has no mark 50: its marks are numbered 0 to 49"),
        (-1, 40.0, "has no mark -1"),
        (3, 0.0, "mark 3 cannot have a side of 0 mm"),
        (3, 2540.0, "mark 3 is stated to be 2540 mm wide"),
        (3, float("inf"), "mark 3 cannot have a side of inf mm"),
    ],
)
def test_a_mark_that_cannot_be_is_refused(number, side, sentence):
    with pytest.raises(CaptureError, match=sentence):
        square_mark("4x4_50", number, side_mm=side)


def test_marks_and_names_must_tell_cards_apart():
    first = square_mark("4x4_50", 1, side_mm=40.0)
    second = square_mark("4x4_50", 2, side_mm=40.0)
    with pytest.raises(CaptureError, match="mark 1 is on left and again on right"):
        CardSet((Card("left", (first,)), Card("right", (second, first))), relative_u=0.001)
    with pytest.raises(CaptureError, match="Two cards are called left"):
        CardSet((Card("left", (first,)), Card("left", (second,))), relative_u=0.001)
