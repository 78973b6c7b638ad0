"""The commented job file that `shapecut new` writes."""

import json
from collections.abc import Mapping, Sequence
from typing import Literal

__all__ = ["SAMPLE_OUTLINE", "job_text"]

SAMPLE_OUTLINE = {
    "units": "mm",
    "rings": [
        {
            "kind": "outer",
            "edges": [
                {"name": "E1", "kind": "line", "from": [0, 0], "to": [0, 640]},
                {"name": "E2", "kind": "line", "from": [0, 640], "to": [820, 640]},
                {"name": "E3", "kind": "line", "from": [820, 640], "to": [820, 420]},
                {
                    "name": "E4",
                    "kind": "arc",
                    "from": [820, 420],
                    "to": [980, 260],
                    "centre": [980, 420],
                    "radius": 160,
                    "turn": "ccw",
                },
                {"name": "E5", "kind": "line", "from": [980, 260], "to": [1180, 260]},
                {"name": "E6", "kind": "line", "from": [1180, 260], "to": [1180, 0]},
                {"name": "E7", "kind": "line", "from": [1180, 0], "to": [0, 0]},
            ],
        }
    ],
}
"""An outline to start from when there are no photographs yet: a step with a rounded corner."""

_TEMPLATE = """\
# A shapecut job.  Lengths are text with their unit: "140 mm", "2.4 m", "5 1/2 in", "1' 3 1/4\\"".
# Lines that begin with # are notes, or choices not taken.  Run it with: shapecut make .

title = {title}

[template]
{source}
# How thick the template is, and where the cards lay: on the "floor" beside it or on the "template".
thickness = "{template_thickness}"
cards_on = "floor"
# Distances taped over the template, between corners of the measured outline, hold the scale:
# tapes = [{{ between = ["E1/E2", "E6/E7"], length = "1260 mm" }}]

# A camera calibrated once with `shapecut camera`, if it took all the photographs:
# camera = "camera.json"
# What was meant of two edges; `shapecut measure .` offers what the photographs agree with:
# regular = ["E2 square to E3", "E1 as long as E5"]

[cards]
# Print cards with `shapecut cards`, measure their 100 mm check bars, and write what you measured:
# bar_along = "99.8 mm"
# bar_across = "100.1 mm"
# Distances taped between the centre crosses of two cards; `shapecut check .` says which helps most:
# tapes = [{{ between = ["card 1", "card 4"], length = "1260 mm" }}]
# Other marks than ours: any OpenCV dictionary and the side of the black square.
# own = {{ dictionary = "AprilTag 36h11", side = "100 mm" }}

# Without cards: a sheet of paper, its corners in the photograph as it stands upright, in pixels
# from the top left; both ends of a short side first, then on round the sheet.
# [[reference.sheets]]
# paper = "A4"
# seen = {{ "one.jpg" = [[1207, 1848], [1702, 1835], [1733, 2544], [1195, 2561]] }}
# Or four or more pencilled points round the template, every point taped to every other.
# [[reference.points]]
# name = "A"
# seen = {{ "one.jpg" = [412, 388], "two.jpg" = [530, 301] }}
# [[reference.tapes]]
# between = ["A", "B"]
# length = "1260 mm"

# What was traced wrongly, by the names of edges; README.md, "Settling doubts", shows all kinds.
# [[corrections]]
# shadow = "E5"            # no edge: its neighbours meet

[edges]
# What the boards meet at each edge; `shapecut measure .` draws the edges with their names.
#   wall      leave an expansion gap          covered   a fascia or trim hides the cut
#   exposed   stays in sight, gets sanded     overhang  nosing past the frame
#   butt      another board                   others    every edge not named here
others = "covered"
# E1 = "wall"

[allowances]
wall = "{wall}"  # boards stay back
covered = "{none}"  # boards stay back
exposed = "{exposed}"  # boards reach past, to be sanded to the line
overhang = "{overhang}"  # boards reach past
# butt = "5 mm"     # the board gap unless stated

[boards]
width = "{width}"  # actual; or, for width and thickness, a nominal name: size = "5/4x6"
thickness = "{thickness}"
gap = "{gap}"
direction = "0 deg"  # to the right as drawn; along an edge: "along E3"; "best" compares the edges
# Where rows start, the lowest side if left out: with a full board at an edge ("E7"), so that they
# go on an existing deck's ("37 mm from E7", taped), with equal first and last rows ("balanced"), or
# where the fewest parts come out narrow or short ("best").
# start = "best"
smallest_rip = "{smallest_rip}"
smallest_length = "{smallest_length}"
# What the boards' long edges are, for turning pieces end for end and ripping two from one length:
# "square" (a sawn edge is as good), "eased", "grooved" (both sides), "unlike" (tongue and groove).
edges = "eased"
two_good_faces = false  # true: pieces may also lie face down
# The gap wanted in service, if wood is laid wetter or drier than it will be:
# seasoning = {{ species = "douglas-fir", grain = "flat", at_laying = 19, in_service = 12 }}

# What the boards lie on: bearings, spans and blocking are then worked out.
# [joists]
# direction = "across boards"  # or "along E3", "90 deg"
# spacing = "400 mm"           # from centre to centre; or list them: lines = ["19 mm", "450 mm"]
# first = "19 mm"              # to the centre of the first, from measured_from or the origin
# measured_from = "E1"
# width = "38 mm"
# longest_spacing = "400 mm"   # what the boards may span; IRC Table R507.7 if left out
# The timber that blocking is cut from, to have it in the cost:
# [blocking]
# lengths = [{{ length = "3 m", price = 9.80 }}]
# spare_percent = 10

# Rows longer than any board, joined over joists:
# [joints]
# offset = "600 mm"            # between joints of neighbouring rows, at least
# pattern = "free"             # or "every second joist", "every third joist"
# gap = "3 mm"                 # between two ends; more in the cold, with this:
# heat = {{ per_kelvin = 4e-5, laid_at = 15, hottest = 55 }}

# Boards along edges round the rows, and boards across them that part the rows:
# [border]
# edges = ["E1", "E2"]
# courses = 1
# corners = "mitred"           # or "butted": the edge named first runs through
# [[breakers]]
# measured_from = "E1"
# at = "2400 mm"               # to the breaker's middle
# Rows cut long at an edge, to be trimmed in place along one snapped line:
# [left_long]
# E3 = "40 mm"

# What holds the boards down; clips where boards.edges are "grooved", else screws:
# [fasteners]
# spare_percent = 10
# screw_price = 0.09

# Boards that cover the frame along all covered edges, or those named; with holes to drill:
# [fascia]
# frame_depth = "145 mm"
# lengths = [{{ length = "3 m", price = 15.90 }}]
# screws = {{ count = 2, edge_distance = "30 mm", spacing = "600 mm" }}

# Evenly spaced points along an edge or a length, lights or balusters; goods sold by the reel:
# [[points]]
# name = "light"
# edge = "E2"
# count = 4                    # or at_most = "100 mm", ends = "whole", size = "40 mm"
# clear_of_joists = "5 mm"
# price = 12.50                # of each, to have them in the cost
# [[strips]]
# name = "light strip"
# edges = ["E1", "E2"]
# pitch = "50 mm"              # where it may be cut
# lengths = [{{ length = "5 m", price = 24.00 }}]
# spare_percent = 10

# [saw]
# relief_radius = "0 mm"       # of a router's cutter at inside corners
# smallest_angle_deg = 20      # sharper points break

[stock]
kerf = "{kerf}"  # width of the saw cut
squared_end = "{none}"  # taken off either end of a board that is not square as bought
currency = "{currency}"
keep = "{keep}"  # what is left of a board goes into offcuts.toml from this length on
# Boards on hand, used where that saves money: the offcuts.toml of an earlier job, or stated here.
# offcuts = "offcuts.toml"
# on_hand = [{{ name = "by the shed", length = "1.8 m", avoid = [["0 mm", "60 mm"]] }}]
# search_seconds = 3  # the longest search for cheaper boards
# spare_percent = 5   # boards bought on top, of the longest ones that are bought
# Prices are for one board; leave all of them out and the shortest total length is bought.
lengths = [
  {{ length = "{shorter}", price = 14.40 }},
  {{ length = "{longer}", price = 21.60 }},
]

[papers]
units = "{units}"  # of the DXF files and the lists: "mm" or "in"
fraction = 16  # inches are rounded to 1/16
page = "{page}"  # A4, A3, Letter, Tabloid, "roll 610 mm" or "900 mm x 1200 mm"
# tiles = ["plan"]    # full-scale pages: plan, cuts (pieces only where they are cut), drilling,
#                       placing (the whole floor)
# bar_along = "99.2 mm"   # the 100 mm bars on a printed page as measured, along the sheet's long
# bar_across = "99.6 mm"  # side and across it: pages are then drawn for this printer
# dxf = "R12"         # for machines that cannot read R2010
# tool = "6 mm"       # a router's bit: its path is drawn instead of the contour
# relieve = true      # and runs into inside corners
"""


_FIGURES: Mapping[str, Mapping[str, str]] = {
    "mm": {
        "template_thickness": "4 mm",
        "none": "0 mm",
        "wall": "6 mm",
        "exposed": "2 mm",
        "overhang": "25 mm",
        "width": "140 mm",
        "thickness": "28 mm",
        "gap": "5 mm",
        "smallest_rip": "40 mm",
        "smallest_length": "150 mm",
        "kerf": "3 mm",
        "currency": "EUR",
        "keep": "300 mm",
        "shorter": "2.4 m",
        "longer": "3.6 m",
        "page": "A4",
    },
    "in": {
        "template_thickness": "5/32 in",
        "none": "0 in",
        "wall": "1/4 in",
        "exposed": "1/16 in",
        "overhang": "1 in",
        "width": "5 1/2 in",
        "thickness": "1 in",
        "gap": "3/16 in",
        "smallest_rip": "1 1/2 in",
        "smallest_length": "6 in",
        "kerf": "1/8 in",
        "currency": "USD",
        "keep": "12 in",
        "shorter": "8 ft",
        "longer": "12 ft",
        "page": "Letter",
    },
}
"""What a new job begins with, to be changed by the person: usual sizes in either trade."""


def job_text(
    title: str,
    photos: Sequence[str] = (),
    *,
    outline: str | None = None,
    units: Literal["mm", "in"] = "mm",
) -> str:
    """Write a job file.

    Args:
        title: Of the job, any text.
        photos: Names of photographs beside the job file; none where they are yet to be taken.
        outline: Name of a typed outline's file beside it, instead of photographs.
        units: That its lengths are written in.

    Returns:
        TOML that reads back as a valid job.
    """
    figures = dict(_FIGURES[units])
    if outline:
        source = (
            "# No photographs yet, so this runs on a typed outline; later: photos = "
            '["one.jpg", "two.jpg"]\n# A .dxf, .svg or .csv of points will do as well.\n'
            f"outline = {_quoted(outline)}"
        )
        figures["template_thickness"] = figures["none"]
    else:
        source = f"photos = [{', '.join(map(_quoted, photos))}]"
    return _TEMPLATE.format(title=_quoted(title), source=source, units=units, **figures)


def _quoted(text: str) -> str:
    """A JSON string, which is a TOML basic string, escapes included."""
    return json.dumps(text, ensure_ascii=False)
