"""Valid files that fuzzing begins with, of every kind that is read."""

import io
import json
from functools import cache
from pathlib import Path

import ezdxf
import numpy as np
from PIL import Image
from pillow_heif import from_pillow

from shapecut.job.new_job import SAMPLE_OUTLINE, job_text

__all__ = [
    "bench_calls",
    "camera_files",
    "csv_files",
    "dxf_files",
    "job_files",
    "offcut_files",
    "outline_files",
    "photo_files",
    "svg_files",
]

ROOT = Path(__file__).parents[2]

R12_BY_HAND = (
    "0 SECTION 2 HEADER 9 $INSUNITS 70 4 0 ENDSEC 0 SECTION 2 ENTITIES "
    "0 LINE 8 step 10 0.0 20 0.0 11 900.0 21 0.0 "
    "0 ARC 8 step 10 900.0 20 200.0 40 200.0 50 -90.0 51 90.0 "
    "0 POLYLINE 8 step 66 1 70 0 0 VERTEX 8 step 10 900.0 20 400.0 42 0.25 "
    "0 VERTEX 8 step 10 0.0 20 400.0 0 VERTEX 8 step 10 0.0 20 0.0 0 SEQEND 8 step "
    "0 CIRCLE 8 posts 10 300.0 20 200.0 40 45.0 0 ENDSEC 0 EOF "
).replace(" ", "\n")

SVG_PATH = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="600mm" height="400mm" viewBox="0 0 600 400">'
    '<g id="step" transform="translate(10,20) rotate(5)"><path d="M0 0H500v300c-20,40-80-40-120 0'
    'q-60,60-120,0t-100 0A130 150 0 0 1 0 300z"/></g><text x="3">two</text></svg>'
)
SVG_SHAPES = (
    '<?xml version="1.0" encoding="UTF-8"?><svg xmlns="http://www.w3.org/2000/svg" width="24in" '
    'viewBox="0 0 2400 900" xmlns:xlink="http://www.w3.org/1999/xlink"><defs><circle id="post" '
    'r="40"/></defs><rect class="step" x="5" y="5" width="2000" height="800" rx="30"/><use '
    'xlink:href="#post" x="400" y="300"/><ellipse cx="900" cy="400" rx="50" ry="30" '
    'transform="matrix(1 0 .2 1 0 0)"/><polygon points="1200,200 1300,200 1250,300" '
    'style="fill:none"/></svg>'
)
CSV_BULGES = "x mm; y mm; bulge; ring\n0; 0; 0; a\n900; 0; 0,4142; a\n900; 400; ; a\n0; 400; ; a\n"
CSV_ARCS = (
    "# measured on the day\nx_in,y_in,arc\n0,0,\n20,-3,arc\n40,0,\n40,30,\n0,30,\n\n"
    "10,10,\n12,12,arc\n14,10,\n12,8,arc\n"
)
OFFCUTS = """[[offcuts]]
name = "A"
lower = ["0 mm", "900 mm"]
upper = ["20 mm", "910 mm"]
avoid = [["100 mm", "140 mm"]]
cost = 1.50
[[offcuts]]
name = "B ø"
length = "2' 3 1/4\\""
"""


def job_files() -> tuple[bytes, ...]:
    """Job files: one with nearly all tables, the examples', and new ones."""
    examples = [path.read_bytes() for path in sorted(ROOT.glob("examples/*/job.toml"))]
    new = [job_text("Well cover", ["one.jpg"]), job_text("Well cover", outline="outline.json")]
    whole = Path(__file__).with_name("whole_job.toml").read_bytes()
    return (whole, *examples, *(text.encode() for text in new))


def outline_files() -> tuple[bytes, ...]:
    """Outlines in JSON, one with a hole and marks."""
    typed = json.dumps(SAMPLE_OUTLINE).encode()
    return typed, (ROOT / "examples" / "pond_terrace" / "outline.json").read_bytes()


@cache
def dxf_files() -> tuple[bytes, ...]:
    """DXF drawings: a short one, one with every kind of entity as text and in binary."""
    document = ezdxf.new("R2010", units=4)
    space = document.modelspace()
    corners = [(0, 0, 0.3), (900, 0, 0), (900, 400, -0.2), (0, 400, 0)]
    space.add_lwpolyline(corners, "xyb", close=True)
    space.add_spline([(100, 100), (200, 150), (300, 100), (200, 60), (100, 100)])
    space.add_ellipse((600, 200), (50, 0), 0.6)
    space.add_hatch().paths.add_polyline_path([(0, 0), (5, 0), (5, 5)])
    document.blocks.new("post").add_circle((0, 0), 20)
    space.add_blockref("post", (450, 150), {"xscale": -1})
    text, binary = io.StringIO(), io.BytesIO()
    document.write(text)
    document.write(binary, fmt="bin")
    return R12_BY_HAND.encode(), text.getvalue().encode(), binary.getvalue()


def svg_files() -> tuple[bytes, ...]:
    """SVG drawings: a path of every command, and basic shapes."""
    return SVG_PATH.encode(), SVG_SHAPES.encode()


def csv_files() -> tuple[bytes, ...]:
    """Lists of points, with decimal commas and without."""
    return CSV_BULGES.encode(), CSV_ARCS.encode()


def offcut_files() -> tuple[bytes, ...]:
    """Offcuts with square and slanted ends."""
    return (OFFCUTS.encode(),)


def camera_files() -> tuple[bytes, ...]:
    """A calibrated camera."""
    value = {"value": 0.01, "u": 0.001}
    record = {
        "camera": "Phone 7",
        "focal_35mm": 26.0,
        "size_px": [4000, 3000],
        "focal_px": {"value": 3100.5, "u": 1.2},
        "centre_x_px": {"value": 2000.1, "u": 0.8},
        "centre_y_px": {"value": 1499.0, "u": 0.8},
        **dict.fromkeys(("k1", "k2", "p1", "p2", "k3"), value),
        "correlations": np.eye(8).tolist(),
        "made_from": {"sheet": "10 x 7", "photos": ["a.jpg"], "residual_px": 0.1},
    }
    return (json.dumps(record, indent=1).encode(),)


def bench_calls() -> tuple[bytes, ...]:
    """Edits as the bench's page sends them."""
    calls = (
        [["boards", "width", "120 mm"], ["edges", "E1", "wall"]],
        [["cards.own", "dictionary", "AprilTag 36h11"], ["cards.own", "side", "100 mm"]],
        [["joists", "lines", ["1 m", "2 m"]], ["joists", "first", None]],
    )
    return tuple(json.dumps({"edits": edits}).encode() for edits in calls)


@cache
def photo_files() -> tuple[bytes, ...]:
    """Small pictures of every format, several kinds of colour, with EXIF and without."""
    y, x = np.mgrid[0:1:300j, 0:1:304j]
    pixels = np.stack([200 * x + 20, 180 * y + 40, 220 - 90 * x - 60 * y], axis=2)
    picture = Image.fromarray(pixels.astype(np.uint8))
    grey = picture.convert("L")
    few_colours = picture.convert("P", palette=Image.Palette.ADAPTIVE)
    exif = Image.Exif()
    exif[0x0112], exif[0x010F], exif[0x0110] = 6, "Maker", "Maker Phone"
    exif.get_ifd(0x8769).update({0xA405: 26, 0xA002: 304, 0xA003: 300, 0x920A: 4.2})
    exif.get_ifd(0x8825).update({1: "N", 2: (47.0, 1.0, 2.0)})
    return (
        _saved(picture, "JPEG", exif=exif, dpi=(300, 300), quality=40),
        _saved(grey, "JPEG", progressive=True, quality=40),
        _saved(picture.convert("CMYK"), "JPEG", quality=40),
        _saved(picture, "PNG", exif=exif, dpi=(300, 300)),
        _saved(few_colours, "PNG", transparency=3),
        _saved(picture, "TIFF", exif=exif, compression="tiff_lzw", dpi=(600, 300)),
        _saved(grey, "TIFF", compression="packbits"),
        _saved(grey.convert("1"), "TIFF", compression="group4"),
        _saved(from_pillow(picture), None, quality=30),
    )


def _saved(picture, kind: str | None, **options) -> bytes:
    stream = io.BytesIO()
    picture.save(stream, *([kind] if kind else []), **options)
    return stream.getvalue()
