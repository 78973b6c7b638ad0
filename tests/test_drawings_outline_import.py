"""Outlines from drawings: what is drawn is read, and what is wrong is said with its place."""

import contextlib
import math
import random
from itertools import pairwise
from pathlib import Path

import drawsvg
import numpy as np
import pyogrio
import pytest
import shapely
import svgwrite
from hypothesis import given, settings
from hypothesis import strategies as st

from shapecut.drawings.drawn_curves import Bezier, EllipticArc
from shapecut.drawings.outline_import import imported_outline
from shapecut.errors import ShapeError
from shapecut.findings import Level
from shapecut.papers.dxf import drawing_dxf
from shapecut.papers.svg import drawing_svg
from shapecut.shape.biarcs import FREEFORM_MM, distances_from
from shapecut.shape.curves import Arc, Line
from shapecut.shape.meetings import distance_from
from shapecut.shape.polygons import flattened
from tests.drawn_files import as_drawing, assert_same_shape, dxf_bytes, new_dxf, svg_page
from tests.strategies import outlines


def read(data: bytes | str, name: str, **options):
    data = data.encode() if isinstance(data, str) else data
    return imported_outline(data, name, **options)


def refused(data: bytes | str, name: str, **options) -> str:
    with pytest.raises(ShapeError) as caught:
        read(data, name, **options)
    assert "\n" not in str(caught.value)
    return str(caught.value)


def kinds(outline):
    return [type(edge.curve) for edge in outline.edges]


class TestRoundTrips:
    @given(outline=outlines(), units=st.sampled_from(["mm", "in"]))
    @settings(max_examples=60, deadline=None)
    def test_our_own_dxf_keeps_every_edge(self, outline, units):
        again = read(drawing_dxf(as_drawing(outline), units=units), "outline.dxf")
        assert_same_shape(again.outline, outline, relative=1e-6)
        assert again.findings == ()

    @given(outline=outlines())
    @settings(max_examples=60, deadline=None)
    def test_our_own_svg_keeps_every_edge(self, outline):
        again = read(drawing_svg(as_drawing(outline)), "outline.svg")
        assert_same_shape(again.outline, outline, relative=1e-6)

    @given(outline=outlines(curved=False), decimal=st.sampled_from([",", "."]))
    @settings(max_examples=30, deadline=None)
    def test_points_keep_every_edge(self, outline, decimal):
        lines = ["x mm;y mm;ring"]
        for number, ring in enumerate(outline.rings):
            for edge in ring.edges:
                x, y = edge.curve.start
                lines.append(f"{x!r};{y!r};{number}".replace(".", decimal))
        assert_same_shape(read("\n".join(lines), "points.csv").outline, outline, relative=1e-9)

    @given(outline=outlines(), seed=st.integers(0, 1000))
    @settings(max_examples=40, deadline=None)
    def test_loose_lines_and_arcs_in_any_order_and_sense_are_chained(self, outline, seed):
        shuffled = random.Random(seed)
        curves = [edge.curve for edge in outline.edges]
        shuffled.shuffle(curves)
        document, space = new_dxf()
        for curve in curves:
            if isinstance(curve, Arc):
                arc = curve if curve.ccw else curve.reversed()
                start = math.degrees(arc.start_rad)
                end = start + math.degrees(arc.sweep_rad)
                space.add_arc(arc.centre, arc.radius, start, end)
            else:
                ends = [curve.start, curve.end]
                shuffled.shuffle(ends)
                space.add_line(*ends)
        assert_same_shape(read(dxf_bytes(document), "loose.dxf").outline, outline, relative=1e-6)


class TestOtherLibraries:
    FIELD = shapely.Polygon(
        [(0, 0), (400, 0), (400, 300), (0, 300)], [[(100, 100), (150, 100), (150, 150)]]
    )

    @pytest.mark.filterwarnings("ignore:'crs' was not provided")
    @pytest.mark.parametrize("as_lines", [False, True], ids=["polygon", "lines"])
    def test_gdal(self, tmp_path: Path, as_lines):
        path = tmp_path / "field.dxf"
        rings = [self.FIELD.exterior, *self.FIELD.interiors]
        shapes = [shapely.LineString(ring.coords) for ring in rings] if as_lines else [self.FIELD]
        wkb = np.array([shapely.to_wkb(shape) for shape in shapes], dtype=object)
        pyogrio.raw.write(path, wkb, [], [], driver="DXF", geometry_type=shapes[0].geom_type)
        given = read(path.read_bytes(), "field.dxf", units="mm")
        assert given.outline.area == pytest.approx(120_000 - 1250)
        assert len(given.outline.holes) == 1
        # Without a map's projection GDAL states inches, whatever the numbers are.
        assert [finding.level for finding in given.findings] == [Level.CHECK]
        assert "25.4 mm" in given.findings[0].what

    def test_svgwrite(self):
        drawing = svgwrite.Drawing(size=("600mm", "400mm"), viewBox="0 0 600 400")
        layer = drawing.g(id="shelf", transform="translate(20,30) rotate(30)")
        path = drawing.path("M 0,0 h 300")
        path.push("v", 120)
        path.push_arc((-80, 80), 0, 80, large_arc=False, angle_dir="+", absolute=False)
        path.push("H", 0, "Z")
        layer.add(path)
        layer.add(drawing.circle((60, 60), 20))
        drawing.add(layer)
        drawing.add(drawing.text("shelf", insert=(5, 5)))
        given = read(drawing.tostring(), "shelf.svg", layers=["shelf"])
        area = 300 * 200 - (4 - math.pi) / 4 * 80**2 - math.pi * 20**2
        assert given.outline.area == pytest.approx(area, rel=1e-9)
        assert sorted(kinds(given.outline), key=str) == [Arc] * 3 + [Line] * 4

    def test_drawsvg(self):
        drawing = drawsvg.Drawing(600, 400)
        drawing.set_render_size("600mm", "400mm")
        drawing.append(drawsvg.Rectangle(10, 10, 300, 200, rx=25))
        drawing.append(drawsvg.Lines(100, 100, 150, 100, 150, 160, close=True))
        given = read(drawing.as_svg(), "shelf.svg")
        assert given.outline.area == pytest.approx(60_000 - (4 - math.pi) * 25**2 - 1500)
        assert kinds(given.outline).count(Arc) == 4


class TestDxf:
    def test_circles_ellipses_and_splines_become_lines_and_arcs(self):
        document, space = new_dxf()
        space.add_ellipse((0, 0), (300, 100), 0.4)
        space.add_circle((50, 10), 30)
        space.add_spline([(-150, -60), (-120, -20), (-60, -30), (-70, -70), (-150, -60)])
        given = read(dxf_bytes(document), "round.dxf").outline
        assert len(given.holes) == 2
        semi = math.hypot(300, 100)
        # An oval's perimeter: Ramanujan's second formula, good to 1e-8 at this ratio.
        h = ((1 - 0.4) / (1 + 0.4)) ** 2
        perimeter = math.pi * semi * 1.4 * (1 + 3 * h / (10 + math.sqrt(4 - 3 * h)))
        length = sum(edge.curve.length for edge in given.outer.edges)
        assert length == pytest.approx(perimeter, rel=2e-5)
        assert [Arc, Arc] in [[type(e.curve) for e in hole.edges] for hole in given.holes]

    @pytest.mark.parametrize("release", ["R12", "R2000", "R2018"])
    def test_polylines_of_any_release(self, release):
        document, space = new_dxf(release=release)
        corners = [(0, 0, 0), (200, 0, 0.5), (200, 100, 0), (0, 100, 0)]
        space.add_polyline2d(corners, format="xyb", close=True)
        given = read(dxf_bytes(document), "one.dxf", units="mm").outline
        sweep = 4 * math.atan(0.5)
        radius = 50 / math.sin(sweep / 2)
        assert given.area == pytest.approx(20_000 + radius**2 / 2 * (sweep - math.sin(sweep)))

    def test_blocks_are_unpacked_with_their_scale_and_layer(self):
        document, space = new_dxf()
        post = document.blocks.new("POST")
        post.add_circle((0, 0), 10)
        space.add_lwpolyline([(0, 0), (400, 0), (400, 300)], close=True, dxfattribs={"layer": "A"})
        space.add_blockref(
            "POST", (300, 100), dxfattribs={"xscale": 2, "yscale": 2, "layer": "POSTS"}
        )
        data = dxf_bytes(document)
        assert read(data, "a.dxf").outline.area == pytest.approx(60_000 - math.pi * 400)
        assert read(data, "a.dxf", layers=["A"]).outline.area == pytest.approx(60_000)
        assert read(data, "a.dxf", layers=["POSTS"]).outline.area == pytest.approx(math.pi * 400)

    def test_entities_seen_from_behind_are_mirrored(self):
        document, space = new_dxf()
        space.add_lwpolyline(
            [(0, 0, 0), (100, 0, 1), (100, 80, 0), (0, 80, 0)],
            format="xyb",
            close=True,
            dxfattribs={"extrusion": (0, 0, -1)},
        )
        outline = read(dxf_bytes(document), "back.dxf").outline
        assert min(edge.curve.start[0] for edge in outline.edges) == pytest.approx(-100)
        assert outline.area == pytest.approx(8000 + math.pi * 40**2 / 2)

    def test_what_is_left_aside_and_drawn_twice_is_said(self):
        document, space = new_dxf()
        corners = [(0, 0), (400, 0), (400, 300), (0, 300)]
        for k in range(4):
            space.add_line(corners[k - 1], corners[k])
        space.add_line(corners[0], corners[1])
        space.add_text("shelf")
        said = " ".join(f.what for f in read(dxf_bytes(document), "a.dxf").findings)
        assert "1 TEXT" in said
        assert "drawn twice" in said

    def test_a_binary_file(self, tmp_path: Path):
        document, space = new_dxf()
        space.add_lwpolyline([(0, 0), (400, 0), (400, 300)], close=True)
        document.saveas(tmp_path / "b.dxf", fmt="bin")
        given = read((tmp_path / "b.dxf").read_bytes(), "b.dxf")
        assert given.outline.area == pytest.approx(60_000)


def dxf_of(draw, units: int = 4) -> bytes:
    document, space = new_dxf(units)
    draw(space)
    return dxf_bytes(document)


def squares(space):
    space.add_lwpolyline([(0, 0), (90, 0), (90, 90)], close=True, dxfattribs={"layer": "shelf"})
    space.add_lwpolyline([(200, 0), (300, 0), (300, 90)], close=True, dxfattribs={"layer": "door"})


def open_chain(space):
    space.add_lwpolyline([(0, 0), (400, 0), (400, 300), (3, 0.5)])


def forked(space):
    corners = [(0, 0), (400, 0), (400, 300)]
    for k in range(3):
        space.add_line(corners[k - 1], corners[k])
    space.add_line((400, 0), (700, 0))


def bow_tie(space):
    space.add_lwpolyline([(0, 0), (9, 9), (9, 0), (0, 9)], close=True)


class TestBadDrawings:
    @pytest.mark.parametrize(
        ("data", "says"),
        [
            (b"", ["no DXF"]),
            (b"ENTITIES in name only", ["no DXF"]),
            (dxf_of(open_chain), ["open", "(0.0, 0.0)", "(3.0, 0.5)", "3.0 mm away"]),
            (dxf_of(forked), ["3 ends meet at (400.0, 0.0)"]),
            (dxf_of(squares), ["2 outer rings", "layer shelf", "layer door", "100 × 90 mm at (200",
                               "outline_layers"]),
            (dxf_of(squares, units=0), ["$INSUNITS", "template.outline_units"]),
            (dxf_of(lambda space: space.add_text("shelf")), ["no lines or arcs", "1 TEXT"]),
            (dxf_of(lambda space: space.add_line((5, 5), (5, 5))), ["no lines or arcs"]),
            (dxf_of(lambda space: space.add_line((0, 0, 0), (9, 0, 50))), ["not flat", "LINE"]),
            (dxf_of(lambda space: space.add_circle((0, 0), 9, dxfattribs={"extrusion": (1, 0, 0)})),
             ["CIRCLE on layer 0", "stands up"]),
            (dxf_of(lambda space: space.add_3dface([(0, 0), (1, 0), (1, 1)])), ["3DFACE", "solid"]),
            (dxf_of(bow_tie), ["cross", "(4.5, 4.5)"]),
            (dxf_of(lambda space: space.add_lwpolyline([(0, 0), (9, 0)], close=True)),
             ["encloses nothing"]),
            (dxf_of(lambda space: space.add_circle((math.nan, 0), 9)), ["no numbers"]),
            (dxf_of(lambda space: space.add_line((0, 0), (1e12, 0))), ["1,000,000 mm"]),
        ],
    )  # fmt: skip
    def test_dxf(self, data, says):
        sentence = refused(data, "shelf.dxf")
        assert sentence.startswith("shelf.dxf")
        for words in says:
            assert words in sentence

    @pytest.mark.parametrize(
        ("data", "says"),
        [
            (b"", ["no XML"]),
            (b"<html/>", ["no SVG"]),
            (b'<!DOCTYPE svg [<!ENTITY a SYSTEM "file:///etc/hostname">]><svg>&a;</svg>',
             ["DOCTYPE"]),
            (b'<svg xmlns="http://www.w3.org/2000/svg"><rect width="9" height="9"/></svg>',
             ["viewBox", "template.outline_units"]),
            (svg_page("<text>shelf</text>"), ["no lines or arcs", "1 text"]),
            (svg_page('<path id="shelf" d="M0 0 L3 x"/>'), ['path "shelf"', 'character 8 ("x")']),
            (svg_page('<path d="M0 0 H90 V90"/>'), ["open", "127.3 mm away"]),
            (svg_page('<rect width="5em" height="3"/>'), ["rect 1", '"5em"']),
            (svg_page('<g transform="spin(3)"><rect width="5" height="3"/></g>'), ["spin(3)"]),
            (svg_page('<path d="M0 0 L1e999 0 L3 3 z"/>'), ["no number"]),
            (svg_page("<g>" * 3000 + "</g>" * 3000), ["deep"]),
            (svg_page('<g id="a"><use href="#a"/></g>'), ["without end"]),
            (svg_page("".join(f'<g id="g{k}">' + f'<use href="#g{k + 1}"/>' * 20 + "</g>"
                              for k in range(8))), ["50,000"]),
        ],
    )  # fmt: skip
    def test_svg(self, data, says):
        sentence = refused(data, "shelf.svg")
        assert sentence.startswith("shelf.svg")
        for words in says:
            assert words in sentence

    @pytest.mark.parametrize(
        ("text", "says"),
        [
            ("", ["no points"]),
            ("x,y\n0,0\n9,0\n9,9", ["template.outline_units"]),
            ("x mm,y mm\n0,0\nnan,3\n3,3", ["x in line 3", '"nan"']),
            ("x mm,y mm\n0,0\n9,zwölf\n3,3", ["y in line 3", "zwölf"]),
            ("x mm,y mm\n1,5,2,5\n3,4,5,6", ["line 2", "4 values", "semicolons"]),
            ("east,north\n1,2", ["east, north", "x and y"]),
            ("x mm,y cm\n1,2", ["cm and mm"]),
            ("x mm,y mm,arc\n0,0,\n3,4,arc\n4,9,arc\n9,9,", ["line 4", "line 2"]),
            ("x mm,y mm\n0,0\n9,9\n9,0\n0,9", ["cross"]),
            ("x mm,y mm\n3,3\n3,3\n3,3", ["encloses anything"]),
        ],
    )
    def test_csv(self, text, says):
        sentence = refused(text, "points.csv")
        assert sentence.startswith("points.csv")
        for words in says:
            assert words in sentence

    def test_an_unknown_layer_and_an_unknown_ending(self):
        assert "door, shelf" in refused(dxf_of(squares), "a.dxf", layers=["shelves"])
        assert ".dxf, .svg or .csv" in refused("", "a.pdf")

    @given(data=st.binary(max_size=400), ending=st.sampled_from([".dxf", ".svg", ".csv"]))
    @settings(max_examples=100, deadline=None)
    def test_any_bytes_are_refused_in_a_sentence(self, data, ending):
        assert refused(b"ENTITIES" + data, f"noise{ending}")

    @given(seed=st.integers(0, 10_000), ending=st.sampled_from([".dxf", ".svg"]))
    @settings(max_examples=60, deadline=None)
    def test_a_damaged_file_is_read_or_refused(self, seed, ending):
        whole = dxf_of(squares) if ending == ".dxf" else svg_page('<path d="M0 0h90v90z"/>')
        noise = random.Random(seed)
        damaged = bytearray(whole)
        for _ in range(20):
            damaged[noise.randrange(len(damaged))] = noise.randrange(256)
        with contextlib.suppress(ShapeError):
            assert read(bytes(damaged), f"damaged{ending}").outline.area > 0

    @given(seed=st.integers(0, 10_000))
    @settings(max_examples=40, deadline=None)
    def test_entities_with_odd_values_are_read_or_refused(self, seed):
        def every_kind(space):
            corners = [(0, 0, 0.3), (400, 0, 0), (400, 300, 0)]
            space.add_lwpolyline(corners, format="xyb", close=True)
            space.add_ellipse((250, 100), (30, 10), 0.5)
            space.add_spline([(300, 100), (330, 150), (370, 120), (300, 100)])
            space.add_hatch().paths.add_polyline_path([(0, 0), (1, 0), (1, 1)])
            space.add_polyline2d([(200, 20), (220, 20), (210, 40)], close=True)

        head, entities = dxf_of(every_kind).decode().split("ENTITIES", 1)
        entities, tail = entities.split("ENDSEC", 1)
        lines = entities.split("\n")
        noise = random.Random(seed)
        for _ in range(noise.randint(1, 6)):
            odd = noise.choice(["nan", "inf", "1e308", "-1", "", "abc", "70", "99999999"])
            lines[noise.randrange(len(lines))] = odd
        damaged = f"{head}ENTITIES{chr(10).join(lines)}ENDSEC{tail}"
        with contextlib.suppress(ShapeError):
            assert read(damaged, "damaged.dxf").outline.area > 0


class TestSvg:
    def test_every_basic_shape_under_every_transform(self):
        page = svg_page(
            '<g transform="translate(100 50) skewX(20) scale(2,-1)">'
            '<rect x="-40" y="-40" width="200" height="80"/>'
            '<ellipse cx="10" cy="5" rx="20" ry="10" transform="rotate(40 10 5)"/>'
            '<polygon points="100,0 120,0 120,20"/><line x1="60" y1="0" x2="80" y2="0"/>'
            '<polyline points="80 0 80 20 60 0"/></g>'
        )
        outline = read(page, "all.svg").outline
        area = 2 * (200 * 80 - math.pi * 200 - 200 - 200)
        # The sheared ellipse's arcs lie within the tolerance of it, less than 200 mm round.
        assert outline.area == pytest.approx(area, abs=200 * FREEFORM_MM)
        assert len(outline.holes) == 3

    def test_shorthand_commands_go_on_where_the_last_ended(self):
        relative = "m10 10h80v40a20,20 0 01-20 20h-60zm15 15q10-10 20 0t20 0v10l-40 0z"
        absolute = (
            "M10 10H90V50A20 20 0 0 1 70 70H10Z M25 25 Q35 15 45 25 Q55 35 65 25 L65 35 L25 35Z"
        )
        first, second = (
            read(svg_page(f'<path d="{d}"/>'), "a.svg").outline for d in (relative, absolute)
        )
        assert_same_shape(first, second, relative=1e-9)

    def test_the_page_sets_the_scale(self):
        page = svg_page('<rect width="10" height="20"/>').replace(b'"600mm"', b'"60cm"')
        assert read(page, "a.svg").outline.area == pytest.approx(200)
        page = page.replace(b'"60cm"', b'"12in"').replace(b'"400mm"', b'"100%"')
        assert read(page, "a.svg").outline.area == pytest.approx(200 * (304.8 / 600) ** 2)

    def test_what_is_hidden_or_only_defined_is_not_drawn(self):
        page = svg_page(
            '<defs><rect id="post" width="10" height="10"/></defs>'
            '<g style="display: none"><rect width="500" height="300"/></g>'
            '<rect x="0" y="0" width="100" height="100"/>'
            '<use href="#post" x="20" y="20" transform="scale(2)"/>'
        )
        assert read(page, "a.svg").outline.area == pytest.approx(10_000 - 400)


class TestFreeformCurves:
    @given(
        control=st.lists(
            st.tuples(st.floats(-500, 500), st.floats(-500, 500)), min_size=3, max_size=4
        )
    )
    @settings(max_examples=100, deadline=None)
    def test_bezier_curves_are_followed_within_the_tolerance(self, control):
        assert_followed(Bezier(tuple(control)), Bezier(tuple(control)).curves(), 0.0, 1.0)

    @given(
        radii=st.tuples(st.floats(5, 2000), st.floats(5, 2000)),
        turn=st.floats(-3, 3),
        start=st.floats(-7, 7),
        sweep=st.one_of(st.floats(0.2, 6.2), st.floats(-6.2, -0.2)),
    )
    @settings(max_examples=60, deadline=None)
    def test_arcs_of_ellipses_are_followed_within_the_tolerance(self, radii, turn, start, sweep):
        c, s = math.cos(turn), math.sin(turn)
        u, v = (radii[0] * c, radii[0] * s), (-radii[1] * s, radii[1] * c)
        arc = EllipticArc((30.0, -20.0), u, v, start, sweep)
        assert_followed(arc, arc.curves(), start, start + sweep)


def assert_followed(freeform, curves, first, last):
    """Assert that a chain runs along a curve, within FREEFORM_MM and without gaps or corners."""
    places = [tuple(map(float, p)) for p in freeform.points(np.linspace(first, last, 301))]
    extent = max(math.dist(places[0], place) for place in places)
    if extent <= FREEFORM_MM:
        return
    off = max(min(distance_from(curve, place) for curve in curves) for place in places)
    assert off <= FREEFORM_MM
    assert math.dist(curves[0].start, places[0]) <= 1e-9
    assert math.dist(curves[-1].end, places[-1]) <= 1e-9
    assert all(a.end == b.start for a, b in pairwise(curves))


def points_csv(corners):
    return "x mm\ty mm\n" + "\n".join(f"{float(x)!r}\t{float(y)!r}" for x, y in corners)


def test_ten_thousand_corners():
    # A saw's teeth, so that no curve is behind them.
    corners = [
        ((1000 + 3 * (k % 2)) * math.cos(a), (700 + 3 * (k % 2)) * math.sin(a))
        for k, a in enumerate(np.linspace(0, math.tau, 10_000, endpoint=False))
    ]
    given = read(points_csv(corners), "many.csv")
    assert len(given.outline.edges) == 10_000
    assert given.outline.area == pytest.approx(shapely.Polygon(corners).area)


class TestManyShortLines:
    def test_a_flattened_rounded_shape_has_its_arcs_again(self):
        #  A rectangle of 600 by 400 mm with corners of 80 mm and a round post of 50 mm in it.
        drawn = svg_page(
            '<rect width="600" height="400" rx="80"/><circle cx="300" cy="200" r="50"/>'
        )
        exact = read(drawn, "exact.svg").outline
        document, space = new_dxf()
        for ring in exact.rings:
            space.add_lwpolyline(flattened(ring, tolerance_mm=1e-4), close=True)
        given = read(dxf_bytes(document), "flat.dxf")
        assert_same_shape(given.outline, exact, relative=1e-4)
        assert "short lines" in given.findings[0].what

    def test_corners_of_a_polygon_stay_corners(self):
        corners = [
            (300 * math.cos(k * math.tau / 48), 300 * math.sin(k * math.tau / 48))
            for k in range(48)
        ]
        assert kinds(read(points_csv(corners), "polygon.csv").outline) == [Line] * 48

    @given(seed=st.integers(0, 1000), count=st.integers(200, 2000))
    @settings(max_examples=20, deadline=None)
    def test_no_corner_is_farther_from_the_arcs_than_stated(self, seed, count):
        noise = np.random.default_rng(seed)
        waves = noise.normal(0, 1, (5, 2)) * [[30], [10], [5], [3], [2]]
        angles = np.linspace(0, math.tau, count, endpoint=False)
        radii = 400 + sum(
            a * np.cos(k * angles) + b * np.sin(k * angles) for k, (a, b) in enumerate(waves, 2)
        )
        corners = np.column_stack([radii * np.cos(angles), radii * np.sin(angles)])
        outline = read(points_csv(corners), "wavy.csv").outline
        curves = [edge.curve for edge in outline.edges]
        off = np.min([distances_from(corners, curve) for curve in curves], axis=0)
        assert off.max() <= FREEFORM_MM + 1e-9
