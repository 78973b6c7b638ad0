"""The report: one file that needs nothing else, safe with any text, fit to be read aloud."""

import re
from base64 import b64decode
from dataclasses import replace
from html.parser import HTMLParser
from itertools import pairwise

import cv2
import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from shapecut.capture.photo import Photo
from shapecut.findings import Finding, Level
from shapecut.papers.closeups import closeups
from shapecut.papers.edge_points import points_beside
from shapecut.papers.length_uncertainty import length_u95_mm
from shapecut.papers.markup import Lengths
from shapecut.papers.overlay import Overlay, overlays
from shapecut.papers.report import ReportSettings, report_html
from shapecut.papers.report_drilling import drilling_section
from shapecut.papers.verdict import measurement_verdict
from shapecut.results import OVERLAY_BYTES
from shapecut.shape.curves import Line
from shapecut.shape.outline import Edge, Outline, Ring
from shapecut.shape.setting_out import SetPoint
from shapecut.survey.survey import Survey
from shapecut.survey.view import Camera, PhotoView
from shapecut.trace.traced import Traced
from tests import plan_by_hand

HOSTILE = "<script>alert(\"x\")</script> & 'quotes'"

VOID = {"meta", "img", "br", "hr", "link", "input", "path"}


class Page(HTMLParser):
    """Every tag with its attributes, the text, and whether tags are closed in order."""

    def __init__(self, html: str):
        super().__init__()
        self.tags: list[tuple[str, dict[str, str]]] = []
        self.words: list[str] = []
        self.open: list[str] = []
        self.feed(html)

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag):
        if tag not in VOID:
            assert self.open.pop() == tag

    def handle_data(self, data):
        self.words.append(data)

    def all(self, tag: str) -> list[dict[str, str]]:
        return [attributes for name, attributes in self.tags if name == tag]

    @property
    def text(self) -> str:
        return " ".join(" ".join(self.words).split())


def straight_above() -> PhotoView:
    """A camera 2 m over the middle of the plan, 1 px about 1 mm."""
    return PhotoView(
        photo=0,
        camera=Camera((1600, 1200), 2000.0, (799.5, 599.5)),
        rotation=np.diag([1.0, -1.0, -1.0]),
        translation=np.array([-550.0, 350.0, 2000.0]),
    )


def survey(**changes) -> Survey:
    values = {
        "views": (straight_above(),),
        "cards": (),
        "height_mm": 0.0,
        "relative_u": 0.0003,
        "point_u_mm": 0.1,
        "residual_px": 0.08,
    }
    return Survey(**(values | changes))


def grey_photo() -> Photo:
    return Photo("top <view>.jpg", np.full((1200, 1600, 3), 128, np.uint8))


def report(**changes) -> str:
    values = {
        "title": "Step by the pond",
        "outline": plan_by_hand.outline(),
        "layout": plan_by_hand.layout(),
        "plan": plan_by_hand.cut_plan(),
        "settings": ReportSettings(currency="EUR"),
    }
    return report_html(**(values | changes))


def drawn_over(photo: Photo) -> tuple[Overlay, ...]:
    return overlays([photo], survey(), plan_by_hand.outline(), largest_bytes=OVERLAY_BYTES)


@pytest.fixture(scope="module")
def measured() -> str:
    return report(
        overlays=drawn_over(grey_photo()),
        survey=survey(),
        traced=Traced(plan_by_hand.outline(), (), 0.1),
    )


def test_nothing_is_fetched_and_nothing_runs(measured):
    page = Page(measured)

    assert not page.all("script")
    assert not page.all("link")
    for _, attributes in page.tags:
        for name, value in attributes.items():
            assert not name.startswith("on")
            if name in ("src", "href", "xlink:href"):
                assert value.startswith(("#", "data:image/jpeg;base64,"))
    outside = set(re.findall(r"(?:https?:)?//[^\s\"'<]+", re.sub(r"base64,[^\"]+", "", measured)))
    assert outside == {"http://www.w3.org/2000/svg"}  # the namespace's name, never fetched
    assert "url(" not in measured
    assert "@import" not in measured


def test_every_text_of_the_user_is_escaped():
    layout = plan_by_hand.layout()
    hostile_edge = replace(plan_by_hand.outline().outer.edges[0], name=HOSTILE)
    outline = Outline(Ring((hostile_edge, *plan_by_hand.outline().outer.edges[1:])))
    html = report(
        title=HOSTILE,
        outline=outline,
        layout=replace(
            layout,
            findings=(Finding(Level.SERIOUS, HOSTILE, HOSTILE, HOSTILE),),
        ),
        overlays=drawn_over(replace(grey_photo(), name=HOSTILE)),
        survey=survey(),
        settings=ReportSettings(currency=HOSTILE),
    )
    page = Page(html)

    assert not page.all("script")
    assert HOSTILE in page.text
    assert any(HOSTILE in image["alt"] for image in page.all("img"))


def test_it_is_a_well_formed_page_in_a_stated_language(measured):
    page = Page(measured)

    assert page.open == []
    assert page.all("html") == [{"lang": "en"}]
    assert "width=device-width" in page.all("meta")[1]["content"]
    headings = [tag for tag, _ in page.tags if re.fullmatch(r"h\d", tag)]
    assert headings.count("h1") == 1
    assert headings[0] == "h1"
    assert len({attributes["id"] for _, attributes in page.tags if "id" in attributes}) == len(
        [1 for _, attributes in page.tags if "id" in attributes]
    )
    targets = {attributes["id"] for _, attributes in page.tags if "id" in attributes}
    assert all(link["href"][1:] in targets for link in page.all("a"))


def test_tables_and_pictures_can_be_read_aloud(measured):
    page = Page(measured)

    assert len(page.all("table")) == len(page.all("caption")) > 0
    assert all(cell["scope"] in ("col", "row") for cell in page.all("th"))
    assert all(image["alt"] for image in page.all("img"))
    drawings = [svg for svg in page.all("svg") if svg.get("aria-hidden") != "true"]
    assert all(svg["role"] == "img" for svg in drawings)
    assert len(page.all("title")) == 1 + len(drawings)


def test_what_matters_comes_first(measured):
    text = Page(measured).text

    order = [
        "Is the measurement good enough?",
        "What to buy",
        "2 boards, 63.00 EUR",
        "What to watch for",
        "The bite leaves 60 mm. Cut it last",
        "Boards and their cuts",
        "Edges of the outline",
        "local building code",
    ]
    places = [text.index(words) for words in order]
    assert places == sorted(places)


def test_lengths_come_in_both_units_the_jobs_first():
    assert "900.0\N{NO-BREAK SPACE}mm (35\N{NO-BREAK SPACE}7/16\N{NO-BREAK SPACE}in)" in report()
    inches = report(settings=ReportSettings(lengths=Lengths("in", 32)))
    assert "35\N{NO-BREAK SPACE}7/16\N{NO-BREAK SPACE}in (900.0\N{NO-BREAK SPACE}mm)" in inches


def test_an_outline_that_was_typed_is_not_called_measured():
    outer = plan_by_hand.outline().outer
    typed = Outline(Ring(tuple(replace(edge, u_mm=None) for edge in outer.edges)))
    page = Page(report(outline=typed))

    assert "Not measured here" in page.text
    assert not page.all("img")
    assert "#photos" not in {link["href"] for link in page.all("a")}


def test_an_outline_given_with_its_uncertainties_is_judged_by_them_scale_aside():
    verdict = measurement_verdict(plan_by_hand.outline(), None, tolerance_mm=50.0)
    assert verdict.level is Level.CHECK  # never better: nothing is known of the scale
    assert "scale common to all lengths aside" in verdict.detail
    assert f"±{verdict.longest_u95_mm:.1f}\N{NO-BREAK SPACE}mm" in verdict.detail
    verdict = measurement_verdict(plan_by_hand.outline(), None, tolerance_mm=0.01)
    assert verdict.level is Level.SERIOUS


def embedded(html: str) -> np.ndarray:
    (image,) = Page(html).all("img")
    data = b64decode(image["src"].removeprefix("data:image/jpeg;base64,"))
    return cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_COLOR)[..., ::-1].astype(int)


def test_the_outline_is_drawn_where_the_photograph_shows_it(measured):
    picture = embedded(measured)
    drawn = (picture[..., 0] - picture[..., 1]) > 60

    assert picture.shape == (1200, 1600, 3)
    for edge in plan_by_hand.outline().edges:
        for fraction in (0.15, 0.3, 0.7, 0.85):
            place = np.array([edge.curve.at(fraction)])
            x, y = np.round(straight_above().px_from_mm(place)[0]).astype(int)
            assert drawn[y - 2 : y + 3, x - 2 : x + 3].any()
    # Nothing but a thin line is drawn: its ink is about its length times three pixels.
    length = sum(edge.curve.length for edge in plan_by_hand.outline().edges)
    assert drawn.sum() < 5 * length


def test_a_light_band_shows_how_sure_each_edge_is(measured):
    """E1, known to ±0.42 mm, 20 times enlarged: 8.4 mm to both sides, which are 8.4 px."""
    picture = embedded(measured).astype(int).sum(axis=2) / 3
    edge = next(edge for edge in plan_by_hand.outline().edges if edge.name == "E1")
    light = {}
    for aside in (-11.0, -6.0, 6.0, 11.0):
        quarter = points_beside(edge.curve, aside, edge.curve.length / 4)[1:2]
        (place,) = straight_above().px_from_mm(quarter)
        light[aside] = picture[tuple(np.round(place[::-1]).astype(int))]

    assert min(light[-6.0], light[6.0]) > 160
    assert max(light[-11.0], light[11.0]) < 140
    assert "drawn 20 times as wide as it is" in Page(measured).text


def test_busy_photographs_do_not_make_the_report_heavy():
    noise = np.random.default_rng(1).integers(0, 256, (3000, 4000, 3), np.uint8)
    views = tuple(replace(straight_above(), photo=index) for index in range(2))
    seen = survey(views=views)
    html = report(
        overlays=overlays(
            [Photo(f"photo {index}", noise) for index in range(2)],
            seen,
            plan_by_hand.outline(),
            largest_bytes=OVERLAY_BYTES,
        ),
        survey=seen,
    )

    assert len(html.encode()) < 1_500_000


@pytest.mark.parametrize(
    ("relative_u", "tolerance_mm", "level"),
    [(0.0, 2.0, Level.NOTE), (0.001, 2.0, Level.CHECK), (0.01, 2.0, Level.SERIOUS)],
)
def test_the_verdict_weighs_edges_and_scale_against_the_tolerance(relative_u, tolerance_mm, level):
    """E1, 900 mm, meets E6 (±0.18 mm) at a right angle and E2 (±0.35 mm) at atan(430/200).

    dL = e6 + e2 / sin α + e1 · cot α, with u(e1) = 0.21 mm.
    """
    verdict = measurement_verdict(
        plan_by_hand.outline(), survey(relative_u=relative_u), tolerance_mm=tolerance_mm
    )

    alpha = np.arctan2(430, 200)
    parts = (0.18, 0.35 / np.sin(alpha), 0.21 / np.tan(alpha), 900 * relative_u)
    assert verdict.longest_u95_mm == pytest.approx(2 * np.linalg.norm(parts))
    assert verdict.level is level


def moved_outwards(ring: Ring, index: int, by_mm: float) -> float:
    """Length of an edge of a polygon after one of its edges (index) moved outwards, by geometry."""
    lines = []
    for number, edge in enumerate(ring.edges):
        (x, y), (u, v) = edge.curve.start, edge.curve.direction()
        shift = by_mm if number == index else 0.0
        lines.append(((x + shift * v, y - shift * u), (u, v)))

    def corner(first, second):
        (point, along), (other, across) = first, second
        matrix = np.array([along, np.negative(across)]).T
        reach, _ = np.linalg.solve(matrix, np.subtract(other, point))
        return np.add(point, reach * np.array(along))

    return float(np.linalg.norm(corner(lines[0], lines[1]) - corner(lines[-1], lines[0])))


@given(st.lists(st.floats(0.35, 1.2), min_size=3, max_size=7), st.floats(50.0, 900.0))
def test_length_uncertainty_follows_from_moving_each_edge(turns, size):
    """Polygons inscribed in a circle; u² = Σ (dL/de · u)², the slopes taken from the figure."""
    angles = np.cumsum(turns) / (np.sum(turns) + 0.7) * 2 * np.pi
    corners = [(size * np.cos(angle), size * np.sin(angle)) for angle in angles]
    edges = tuple(
        Edge(f"E{index}", Line(start, end), 0.1 * (index + 1))
        for index, (start, end) in enumerate(zip(corners, (*corners[1:], corners[0]), strict=True))
    )
    ring = Ring(edges)
    tips = [edges[-1].curve, edges[0].curve, edges[1].curve]
    bends = [
        np.linalg.det([first.direction(), second.direction()]) for first, second in pairwise(tips)
    ]
    assume(min(bends) > np.sin(np.radians(20.5)))
    slopes = [
        (moved_outwards(ring, index, 1e-3) - moved_outwards(ring, index, -1e-3)) / 2e-3
        for index in range(len(edges))
    ]
    expected = 2 * np.sqrt(
        sum((slope * edge.u_mm) ** 2 for slope, edge in zip(slopes, edges, strict=True))
        + (2e-4 * edges[0].curve.length) ** 2
    )

    assert length_u95_mm(ring, 0, relative_u=2e-4) == pytest.approx(expected, rel=1e-5)


def test_equal_jobs_give_equal_reports(measured):
    again = report(
        overlays=drawn_over(grey_photo()),
        survey=survey(),
        traced=Traced(plan_by_hand.outline(), (), 0.1),
    )
    assert again == measured


def test_every_piece_has_a_cut_card_with_its_sketch_marks_and_cuts():
    page = Page(report())
    cards = [tag for tag in page.all("article") if tag.get("class") == "card"]

    assert len(cards) == len(plan_by_hand.layout().pieces)
    assert "Sketch of piece 3a on its board" in page.text
    assert "Place of 3a in the plan" in page.text
    assert "curve, hollow, radius 80 mm (3 1/8 in)" in page.text
    assert "keep the side of the" in page.text


def test_the_order_of_installation_goes_from_row_to_row_with_a_running_check():
    text = Page(report()).text
    rows = [text.index(f"row {n}: {n}a") for n in (1, 2, 3)]

    assert rows == sorted(rows)
    assert "near edge 150.0 mm (5 7/8 in) from the first row" in text


@pytest.mark.parametrize("count", [1, 2, 9])
def test_a_report_with_photographs_and_doubtful_places_is_light(count):
    """Noise is the worst that a photograph can hold."""
    rng = np.random.default_rng(5)
    noise = cv2.resize(rng.integers(0, 255, (1200, 1600, 3), np.uint8), None, fx=2, fy=2)
    photos = [Photo(f"{n}.jpg", cv2.resize(noise, (1600, 1200))) for n in range(count)]
    seen = survey(views=tuple(replace(straight_above(), photo=n) for n in range(count)))
    outline = plan_by_hand.outline()
    doubts = [
        Finding(Level.CHECK, edge.name, "It was hard to see.", "Look.", place_mm=edge.curve.at(0.5))
        for edge in outline.edges
    ]
    html = report(
        overlays=overlays(photos, seen, outline, largest_bytes=OVERLAY_BYTES),
        closeups=closeups(photos, seen, outline, doubts),
        survey=seen,
        traced=Traced(outline, tuple(doubts), 0.1),
    )

    assert len(html.encode()) < 1_500_000


def test_a_job_in_inches_is_judged_in_inches():
    """0.87 mm and a tolerance of 1.5 mm are 0.03 and 0.06 in; 900 mm are 35 7/16 in."""
    inches = Lengths("in", 16)
    verdict = measurement_verdict(plan_by_hand.outline(), None, tolerance_mm=1.5, lengths=inches)
    said = verdict.detail.replace("\N{NO-BREAK SPACE}", " ")
    assert "35 7/16 in ±0.03 in (95 %), against a tolerance of ±0.06 in" in said
    assert " mm" not in said


def test_holes_in_pieces_are_listed_as_on_their_cut_cards():
    """P1 lies 200 mm along the first row and 30 mm up."""
    point = SetPoint("P1", plan_by_hand.FRAME.to_plane((200.0, 30.0)), 0.1)
    layout, plan = plan_by_hand.layout(), plan_by_hand.cut_plan()
    html = drilling_section(layout, plan, [point], ReportSettings(point_mm=6.0))
    cells = Page(html).text.replace("\N{NO-BREAK SPACE}", " ")
    assert "P1 1a 200.0 mm (7 7/8 in) 30.0 mm (1 3/16 in) 6.0 mm (1/4 in)" in cells
    assert drilling_section(layout, plan, [], ReportSettings()) == ""
