"""Read tile pages the way a person would: render them, find check bars and register marks.

Nothing here is told where the marks are: bars are found by their shape, marks by matching a cross
in a ring over the whole page, and a mark's name by the text printed beside it.
"""

import re
import subprocess
from dataclasses import dataclass

import cv2
import numpy as np
import pypdfium2 as pdfium

DPI = 300
PX_PER_MM = DPI / 25.4
PT_PER_MM = 72 / 25.4

ROUGH_SCORE, MARK_SCORE = 0.4, 0.6
"""Least normalised correlation with the drawn cross in a ring, at half and at full resolution."""


@dataclass(frozen=True)
class PrintedPage:
    """One page as printed.

    Attributes:
        size_mm: Width and height.
        ink: (h, w) darkness 0 … 1 at `DPI`, first row at the top.
        words: Names such as `7a` on the page with the lower left corner of each, page mm, y up.
    """

    size_mm: tuple[float, float]
    ink: np.ndarray
    words: tuple[tuple[str, tuple[float, float]], ...]
    text: str

    def mm_from_px(self, points: np.ndarray) -> np.ndarray:
        """(N, 2) pixel centres to page mm, y up."""
        x = (points[:, 0] + 0.5) / PX_PER_MM
        y = self.size_mm[1] - (points[:, 1] + 0.5) / PX_PER_MM
        return np.column_stack([x, y])

    def ink_at(self, points_mm: np.ndarray) -> np.ndarray:
        """Darkness at (N, 2) page places, interpolated; NaN outside the page."""
        x = points_mm[:, 0] * PX_PER_MM - 0.5
        y = (self.size_mm[1] - points_mm[:, 1]) * PX_PER_MM - 0.5
        sampled = cv2.remap(
            self.ink,
            x.astype(np.float32)[None],
            y.astype(np.float32)[None],
            cv2.INTER_LINEAR,
            borderValue=float("nan"),
        )
        return sampled[0]


def printed_pages(data: bytes) -> list[PrintedPage]:
    """Render every page with pdfium."""
    document = pdfium.PdfDocument(data)
    pages = []
    for page in document:
        width, height = (side / PT_PER_MM for side in page.get_size())
        grey = page.render(scale=DPI / 72, grayscale=True).to_numpy()
        textpage = page.get_textpage()
        text = textpage.get_text_range()
        words = tuple(
            (match[0], _corner(textpage, match.start()))
            for match in re.finditer(r"\b\d+[ab]\b", text)
        )
        ink = 1 - grey.reshape(grey.shape[:2]).astype(np.float32) / 255
        pages.append(PrintedPage((width, height), ink, words, text))
    return pages


def _corner(textpage, index: int) -> tuple[float, float]:
    left, bottom, _, _ = textpage.get_charbox(index)
    return (left / PT_PER_MM, bottom / PT_PER_MM)


def check_bar_lengths(ink: np.ndarray, *, dpi: float = DPI) -> tuple[list[float], list[float]]:
    """Lengths in mm of chequered bars along and up a page, between the ends of their ink."""
    px_per_mm = dpi / 25.4
    dark = (ink > 0.5).astype(np.uint8)
    _, _, stats, _ = cv2.connectedComponentsWithStats(dark, connectivity=8)
    along, up = [], []
    for x, y, width, height, _ in stats[1:]:
        length, thickness = max(width, height) / px_per_mm, min(width, height) / px_per_mm
        if not (85 < length < 115 and 1.5 < thickness < 4):
            continue
        patch = ink[max(y - 2, 0) : y + height + 2, max(x - 2, 0) : x + width + 2]
        level = width > height
        profile = patch.sum(axis=0 if level else 1)
        ends = _half_way(profile), len(profile) - 1 - _half_way(profile[::-1])
        (along if level else up).append((ends[1] - ends[0]) / px_per_mm)
    return along, up


def corner_by_pdfium(
    data: bytes, page: int, *, dpi: float, side_mm: float
) -> tuple[tuple[float, float], np.ndarray]:
    """A page's size in mm, and the ink of its lower left corner."""
    sheet = pdfium.PdfDocument(data)[page - 1]
    width, height = sheet.get_size()
    side = side_mm * PT_PER_MM
    crop = (0, 0, max(width - side, 0), max(height - side, 0))
    grey = sheet.render(scale=dpi / 72, crop=crop, grayscale=True).to_numpy()
    return (width / PT_PER_MM, height / PT_PER_MM), _ink(grey.reshape(grey.shape[:2]))


def corner_by_poppler(
    data: bytes, page: int, *, dpi: float, side_mm: float
) -> tuple[tuple[float, float], np.ndarray]:
    """The same by another hand."""
    which = ["-f", str(page), "-l", str(page)]
    said = subprocess.run(["pdfinfo", *which, "-"], input=data, capture_output=True, check=True)
    size = re.search(rb"size:\s+([\d.]+) x ([\d.]+) pts", said.stdout)
    width, height = (float(side) / PT_PER_MM for side in size.groups())
    side, top = (round(mm * dpi / 25.4) for mm in (side_mm, max(height - side_mm, 0)))
    box = ["-x", "0", "-y", str(top), "-W", str(side), "-H", str(side)]
    call = ["pdftoppm", "-r", str(dpi), "-gray", *which, *box, "-"]
    done = subprocess.run(call, input=data, capture_output=True, check=True)
    grey = cv2.imdecode(np.frombuffer(done.stdout, np.uint8), cv2.IMREAD_GRAYSCALE)
    return (width, height), _ink(grey)


def _ink(grey: np.ndarray) -> np.ndarray:
    return 1 - grey.astype(np.float32) / 255


def register_marks(page: PrintedPage) -> dict[str, tuple[float, float]]:
    """Names and page places (mm, y up) of all register marks."""
    found = {}
    for row, column in _rough_places(page.ink):
        place, score = _fine_place(page.ink, row, column)
        if score < MARK_SCORE:
            continue
        x, y = page.mm_from_px(np.array([place]))[0]
        found[_name_beside(page, (x, y))] = (float(x), float(y))
    return found


def _rough_places(ink: np.ndarray) -> list[tuple[int, int]]:
    """Pixels (row, column) near the centres of all marks, found at half the resolution."""
    small = cv2.resize(ink, None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA)
    pattern = _cross_in_ring(2 / PX_PER_MM)
    score = cv2.matchTemplate(small, pattern, cv2.TM_CCOEFF_NORMED)
    # Correlation says nothing on blank paper.
    rows, columns = score.shape
    mean = cv2.boxFilter(small, -1, pattern.shape, anchor=(0, 0))[:rows, :columns]
    score[mean < pattern.mean() / 2] = -1
    places = []
    half = pattern.shape[0] // 2
    while True:
        _, best, _, (column, row) = cv2.minMaxLoc(score)
        if best < ROUGH_SCORE:
            return places
        places.append((2 * (row + half), 2 * (column + half)))
        score[max(row - 20, 0) : row + 20, max(column - 20, 0) : column + 20] = -1


def _fine_place(ink: np.ndarray, row: int, column: int) -> tuple[tuple[float, float], float]:
    """Centre (x, y) of the mark near a pixel, to a fraction of a pixel, and its score."""
    pattern = _cross_in_ring(1 / PX_PER_MM)
    half, slack = pattern.shape[0] // 2, 5
    top, left = row - half - slack, column - half - slack
    side = pattern.shape[0] + 2 * slack
    patch = ink[top : top + side, left : left + side]
    score = cv2.matchTemplate(patch, pattern, cv2.TM_CCOEFF_NORMED)
    _, best, _, (across, down) = cv2.minMaxLoc(score)
    if not (0 < across < 2 * slack and 0 < down < 2 * slack):
        return (left, top), 0.0  # the best is at the patch's border: no peak, no mark
    centre = (
        left + across + half + _peak(score, down, across, axis=1),
        top + down + half + _peak(score, down, across, axis=0),
    )
    return centre, best


def _cross_in_ring(mm_per_px: float) -> np.ndarray:
    """The mark's middle, about 7 mm square, drawn eight times too large and averaged."""
    over, side = 8, 2 * round(3.5 / mm_per_px) + 1
    offsets = ((np.arange(side * over) + 0.5) / over - side / 2) * mm_per_px
    x, y = np.meshgrid(offsets, offsets)
    pen = 0.075
    radius = np.hypot(x, y)
    lines = (np.abs(x) < pen) | (np.abs(y) < pen) | (np.abs(radius - 2.6) < pen)
    return lines.reshape(side, over, side, over).mean(axis=(1, 3)).astype(np.float32)


def _peak(score: np.ndarray, row: int, column: int, *, axis: int) -> float:
    """Offset of the vertex of a parabola through the best score and its neighbours."""
    step = np.eye(2, dtype=int)[axis]
    before, middle, after = (
        float(score[row + k * step[0], column + k * step[1]]) for k in (-1, 0, 1)
    )
    return (before - after) / (2 * (before - 2 * middle + after))


def _name_beside(page: PrintedPage, centre: tuple[float, float]) -> str:
    """The name whose lower left corner is nearest to the mark's upper right quarter."""
    word, _ = min(page.words, key=lambda word: np.hypot(*np.subtract(word[1], centre)))
    return word


def _half_way(profile: np.ndarray) -> float:
    """Where ink that begins sharply reaches half of what it is a little farther on."""
    full = np.median(profile[8:24])
    first = int(np.argmax(profile > full / 2))
    before, after = profile[first - 1], profile[first]
    return float(first - (after - full / 2) / (after - before))
