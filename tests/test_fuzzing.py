"""Readers answer whatever they are given with a value or a `ShapecutError`; what once broke them.

Many more files are tried by `tests/fuzzing/run.py`.
"""

import json
import re
import subprocess
import sys
from contextlib import suppress
from pathlib import Path
from random import Random

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from shapecut.drawings.outline_import import imported_outline
from shapecut.errors import JobFileError, ShapecutError, ShapeError
from shapecut.job.new_job import SAMPLE_OUTLINE, job_text
from shapecut.job.reading import job_from_text
from tests.drawn_files import svg_page
from tests.fuzzing.mutations import mutated
from tests.fuzzing.readers import READERS

ONCE_BROKE = Path(__file__).parents[1] / "fixtures" / "once_broke"
"""Files that a fault came out at, as fuzzing found them."""


@pytest.mark.parametrize("name", READERS)
def test_the_valid_files_are_read(name):
    for data in READERS[name].seeds():
        READERS[name].read(data)


@pytest.mark.parametrize("name", READERS)
@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(seed=st.integers(0, 2**32), raw=st.one_of(st.none(), st.binary(max_size=200)))
def test_only_errors_of_ours_come_out(name, seed, raw):
    valid, random = READERS[name].seeds(), Random(seed)
    with suppress(ShapecutError):
        READERS[name].read(mutated(random.choice(valid), random, valid) if raw is None else raw)


# --- what once broke, each with the sentence that answers it now ---------------------------------


def refusal(data: bytes, name: str) -> str:
    with pytest.raises(ShapeError) as raised:
        imported_outline(data, name)
    return str(raised.value)


@pytest.mark.parametrize("transform", ["translate(" + "9" * 2000 + "'9)", "rotate(1e999)"])
def test_an_svg_transform_of_endless_digits(transform):
    """The first took time without end to be told for no list of numbers."""
    said = refusal(svg_page(f'<g transform="{transform}"><path d="M0 0h9v9z"/></g>'), "a.svg")
    assert "transform" in said
    assert len(said) < 200


def test_an_svg_transform_after_many_blanks():
    path = f'<path transform="{" " * 150_000}rotate" d="M0 0h9v9z"/>'
    assert "transform" in refusal(svg_page(path), "a.svg")


@pytest.mark.parametrize(("bulge", "edges"), [("1e-17", 4), ("-4e-12", 4)])
def test_a_bulge_that_is_a_rounding_error_is_a_line(bulge, edges):
    data = f"x mm,y mm,bulge\n0,0,{bulge}\n90,0,\n90,50,\n0,50,\n".encode()
    outline = imported_outline(data, "a.csv").outline
    assert len(outline.edges) == edges
    assert outline.area == pytest.approx(90 * 50)


@pytest.mark.parametrize("bulge", ["9" * 200, "-1e18"])
def test_a_bulge_beyond_measure(bulge):
    data = f"x mm,y mm,bulge\n0,0,{bulge}\n90,0,\n90,50,\n0,50,\n".encode()
    assert re.search("beyond all measure|more than 1,000,000 mm", refusal(data, "a.csv"))


def test_two_rings_that_lie_upon_each_other():
    corners = ["-1157,0,0", "900,0,0.4", "900,400,0", "0,400,0"]
    twice = "\n".join(["x mm,y mm,bulge", *corners, *corners, "", *corners, *corners, "1,1,0"])
    assert "upon each other" in refusal(twice.encode(), "a.csv")


@pytest.mark.parametrize("path", sorted(ONCE_BROKE.glob("*.dxf")), ids=lambda path: path.stem)
def test_a_dxf_whose_blocks_or_layers_are_broken(path):
    assert "is broken" in refusal(path.read_bytes(), path.name)


def test_what_a_damaged_dxf_lacks_is_not_printed():
    """In a process of its own: pytest takes up what is logged."""
    program = (
        "from shapecut.drawings.outline_import import imported_outline\n"
        "from tests.fuzzing.seeds import dxf_files\n"
        "text = dxf_files()[1].replace(b'100.0', b'\"100.0')\n"
        "print(len(imported_outline(text, 'a.dxf').outline.edges))"
    )
    root = Path(__file__).parents[1]
    done = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, cwd=root, check=True
    )
    assert int(done.stdout) > 4
    assert done.stderr == b""


def typed(old: str, new: str) -> bytes:
    text = json.dumps(SAMPLE_OUTLINE)
    assert old in text
    return text.replace(old, new).encode()


def test_an_arc_round_a_centre_out_of_this_world():
    assert "E4" in refusal(typed("[980, 420]", "[981e154, 420]"), "a.json")


@pytest.mark.parametrize("name", ["\\u0000E1", "E1\\nE2", "\\ud800", "E" * 101])
def test_an_edge_name_that_is_no_line_of_text(name):
    assert "rings.0.edges.0" in refusal(typed('"E1"', f'"{name}"'), "a.json")


def test_half_a_character_in_a_call_of_the_bench():
    text = job_text("Well cover", outline="outline.json").replace("140 mm", "14\ud8000 mm")
    with pytest.raises(JobFileError, match="half a character"):
        job_from_text(text)
