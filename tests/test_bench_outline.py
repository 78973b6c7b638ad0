"""The outline at the bench: as the command line measures it, corrected at once, never stale."""

import shutil
import time
from io import BytesIO
from pathlib import Path

import pytest
from PIL import Image

pytest.importorskip("tomlkit", reason="the bench's extra is not installed")

from shapecut.bench.bench import Bench
from shapecut.bench.corrections import with_correction, with_hint, without_correction
from shapecut.errors import ShapecutError, TraceError, UsageError
from shapecut.job.reading import job_from_text
from shapecut.job_folder import measure_into
from tests.test_bench import ask, served

EXAMPLE = Path(__file__).parent.parent / "examples" / "alcove_shelf"
TEXT = (EXAMPLE / "job.toml").read_text("utf-8")


def run(bench, step):
    """Start a long step and wait for what comes of it."""
    bench.call("start", {"step": step})
    deadline = time.monotonic() + 120
    while (told := bench.sitting.progress()[step])["state"] == "running":
        assert time.monotonic() < deadline
        time.sleep(0.02)
    return told


@pytest.fixture(scope="module")
def traced(tmp_path_factory):
    bench = Bench(shutil.copytree(EXAMPLE, tmp_path_factory.mktemp("bench") / "shelf"))
    assert bench.shown()["outline"]["untraced"]
    assert run(bench, "trace")["state"] == "done"
    yield bench
    bench.close()


@pytest.fixture
def bench(traced):
    """The same with the job as it was."""
    (traced.folder / "job.toml").write_text(TEXT)
    return traced


def corrected(bench, **correction):
    return bench.call("correct", {"correction": correction})["outline"]


def edges_of(outline):
    return {edge["name"]: edge["length"] for edge in outline["edges"]}


def as_by_command_line(bench, outline, out):
    """Whether an outline that the page shows is the one that `shapecut measure` finds."""
    edges = measure_into(bench.folder, out, replace=False).outline.edges
    assert [edge["name"] for edge in outline["edges"]] == [edge.name for edge in edges]
    known = [edge.u_mm for edge in edges if edge.u_mm]
    assert sum(bool(edge["within"]) for edge in outline["edges"]) == len(known)
    assert {corner["at"] for corner in outline["corners"]} == {edge.curve.start for edge in edges}
    return True


def test_the_outline_is_the_command_lines(bench, tmp_path):
    shown = bench.shown()
    assert as_by_command_line(bench, shown["outline"], tmp_path / "measured")
    assert len(shown["outline"]["views"]) == len(shown["outline"]["flats"]) == 1
    assert shown["rows"]["pieces"]


def test_a_moved_corner_is_shown_as_the_persons_and_is_the_command_lines(bench, tmp_path):
    before = bench.shown()
    corner = before["outline"]["corners"][1]
    x, y = corner["at"]
    outline = corrected(bench, move=corner["name"], to=[f"{x + 4:.1f} mm", f"{y:.1f} mm"])
    assert set(outline["by_hand"]) == set(corner["name"].split("/"))
    assert "placed at" in outline["corrections"][0]["words"]
    unsure = [edge["name"] for edge in outline["edges"] if not edge["within"]]
    assert sorted(unsure) == sorted(outline["by_hand"])
    assert bench.shown()["rows"] != before["rows"]
    assert as_by_command_line(bench, outline, tmp_path / "measured")


def test_a_corner_moved_again_takes_the_place_of_the_first_move(bench):
    name = bench.shown()["outline"]["corners"][0]["name"]
    corrected(bench, move=name, to=["1 mm", "1 mm"])
    outline = corrected(bench, move=name, to=["2 mm", "1 mm"])
    assert len(outline["corrections"]) == 1
    assert (2.0, 1.0) in [corner["at"] for corner in outline["corners"]]


def test_an_edge_that_is_two_is_the_command_lines_whatever_else_is_corrected(bench, tmp_path):
    first = bench.shown()["outline"]
    name = first["corners"][0]["name"]
    edge = name.split("/")[0]
    other = next(one for one in first["edges"] if one["name"] not in name.split("/"))
    corrected(bench, length=other["length"], of=other["name"], u="5 mm")
    outline = corrected(bench, two=edge, corner=name, at="100 mm")
    assert {f"{edge}.1", f"{edge}.2"} <= set(edges_of(outline))
    length, two = outline["corrections"]
    assert length["words"].startswith(f"length of {other['name']}")
    assert two["words"].startswith(f"{edge} taken for two")
    assert as_by_command_line(bench, outline, tmp_path / "measured")


def test_corrections_are_taken_back_one_by_one_and_undone(bench):
    first = bench.shown()["outline"]
    name = first["corners"][0]["name"]
    corrected(bench, length="900 mm", of="E1", u="5 mm")
    both = corrected(bench, move=name, to=["1 mm", "1 mm"])
    words = [one["words"] for one in both["corrections"]]
    assert words[0].startswith("length of E1")
    assert words[1].startswith(name)
    left = bench.call("uncorrect", {"number": 0})["outline"]["corrections"]
    assert [one["words"] for one in left] == words[1:]
    bench.call("undo", {})
    bench.call("undo", {})
    shown = bench.call("undo", {})["outline"]
    assert edges_of(shown) == edges_of(first)
    assert (bench.folder / "job.toml").read_text() == TEXT


def test_an_impossible_correction_is_refused_whole(bench):
    with pytest.raises(TraceError, match="E9/E1"):
        corrected(bench, move="E9/E1", to=["1 mm", "1 mm"])
    with pytest.raises(ShapecutError, match="length"):
        corrected(bench, length="long", of="E1")
    assert (bench.folder / "job.toml").read_text() == TEXT


@pytest.mark.parametrize(
    "correction",
    [None, [], {}, {"move": 3}, {"move": {"a": "b"}}, {"one": ["E1"] * 99}, {"template": "x"}],
)
def test_a_correction_that_is_none_is_refused(bench, correction):
    with pytest.raises(ShapecutError):
        bench.call("correct", {"correction": correction})
    assert (bench.folder / "job.toml").read_text() == TEXT


def test_edges_that_are_one_leave_nothing_said_of_the_other(bench):
    (bench.folder / "job.toml").write_text(TEXT.replace('others = "wall"', 'E3 = "wall"'))
    outline = corrected(bench, one=["E2", "E3"])
    assert [edge["name"] for edge in outline["edges"]] == ["E1", "E2", "E4"]
    assert "E3" not in job_from_text((bench.folder / "job.toml").read_text()).edges


@pytest.mark.parametrize(
    "change",
    [("template", "thickness", "3 mm"), ("template", "cards_on", "template")],
)
def test_no_outline_is_shown_that_was_found_otherwise(bench, change):
    shown = bench.call("change", {"edits": [list(change)]})
    assert shown["outline"]["untraced"]
    assert "edges" not in shown["outline"]
    assert "Outline" in shown["rows"]["wrong"]
    assert bench.call("undo", {})["outline"]["edges"]


def test_another_photograph_under_the_same_name_is_another_outline(bench):
    photo = bench.folder / "alcove.jpg"
    kept = photo.rename(bench.folder.parent / "kept.jpg")
    shutil.copyfile(kept, photo)
    assert bench.shown()["outline"]["untraced"]
    photo.unlink()
    assert "alcove.jpg" in bench.shown()["outline"]["wrong"]
    kept.rename(photo)
    assert bench.shown()["outline"]["edges"]


def test_what_was_meant_regular_is_weighed_and_taken_back(bench, tmp_path):
    outline = bench.call("mean", {"regular": ["E1 parallel to E3"]})["outline"]
    assert outline["regular"] == [{"words": "E1 parallel to E3"}]
    # This alcove has no parallel walls, which is said of it; nothing is bent to be so.
    assert any("E1 parallel to E3" in finding["what"] for finding in outline["findings"])
    assert outline["by_hand"] == []
    assert as_by_command_line(bench, outline, tmp_path / "measured")
    with pytest.raises(ShapecutError, match="E9"):
        bench.call("mean", {"regular": ["E1 parallel to E9"]})
    with pytest.raises(ShapecutError):
        bench.call("mean", {"regular": "E1 parallel to E3"})
    assert bench.call("mean", {"regular": []})["outline"]["regular"] == []
    assert (bench.folder / "job.toml").read_text() == TEXT


def test_a_hint_asks_for_a_new_search_and_is_taken_back(bench):
    hint = {"kind": "on_template", "photo": "alcove.jpg", "places": [2000, 1500]}
    outline = bench.call("hint", hint)["outline"]
    assert outline["untraced"]
    assert outline["hints"] == [
        {"kind": "on_template", "photo": "alcove.jpg", "places": [(2000.0, 1500.0)]}
    ]
    assert bench.call("hint", hint | {"places": None})["outline"]["edges"]
    assert (bench.folder / "job.toml").read_text() == TEXT


@pytest.mark.parametrize(
    "values",
    [
        {},
        {"kind": "anywhere", "photo": "alcove.jpg", "places": [1, 2]},
        {"kind": "box", "photo": "alcove.jpg", "places": [1, 2, 3]},
        {"kind": "box", "photo": "alcove.jpg", "places": [[1, 2], [[3], 4]]},
        {"kind": "on_floor", "photo": "../other.jpg", "places": [1, 2]},
        {"kind": "on_floor", "photo": "alcove.jpg", "places": ["1", "2"]},
        {"kind": "on_floor", "photo": "alcove.jpg", "places": [float("nan"), 2]},
        {"kind": "box", "photo": "alcove.jpg", "places": [[[1, 2], [3, 4]], [5, 6]]},
    ],
)
def test_a_hint_that_is_none_is_refused(bench, values):
    with pytest.raises(ShapecutError):
        bench.call("hint", values)
    assert (bench.folder / "job.toml").read_text() == TEXT


def test_pictures_are_served_small_and_by_their_names_only(bench):
    outline = bench.shown()["outline"]
    with served(bench) as server:
        for name in (outline["photos"][0]["picture"], outline["flats"][0]["picture"]):
            status, headers, data = ask(server, "GET", name, Origin=None)
            assert status == 200
            assert headers["Content-Type"] == "image/jpeg"
            assert max(Image.open(BytesIO(data)).size) <= 1800
        for name in ("0", "../job.toml", "alcove.jpg", "..%2fjob.toml", "flat-0-", "-1"):
            assert ask(server, "GET", f"/picture/{name}", Origin=None)[0] == 404
        assert ask(server, "GET", outline["photos"][0]["picture"], Cookie=None)[0] == 403


def test_a_search_that_is_stopped_leaves_no_outline(tmp_path):
    bench = Bench(shutil.copytree(EXAMPLE, tmp_path / "shelf"))
    bench.call("start", {"step": "trace"})
    assert bench.call("stop", {"step": "trace"})["trace"]["state"] == "stopped"
    assert bench.shown()["outline"]["untraced"]
    assert {path.name for path in bench.folder.iterdir()} == {"job.toml", "alcove.jpg"}


def test_corrections_are_written_below_what_the_person_wrote():
    once = with_correction(TEXT, {"move": "E1/E2", "by": ["1 mm", "0 mm"]})
    twice = with_correction(once, {"one": ["E2", "E3"]})
    assert twice.startswith(TEXT)
    assert len(job_from_text(twice).corrections) == 2
    assert without_correction(without_correction(twice, 1), 0) == TEXT
    with pytest.raises(UsageError):
        without_correction(TEXT, 0)


def test_corrections_in_a_list_stay_in_it():
    text = f'corrections = [{{ one = ["E1", "E2"] }}]  # mine\n{TEXT}'
    longer = with_correction(text, {"shadow": "E3"})
    assert "# mine" in longer
    assert [str(one.correction) for one in job_from_text(longer).corrections] == [
        "E1 and E2 are one",
        "shadow on E3",
    ]


def test_hints_of_two_kinds_stand_in_one_table():
    once = with_hint(TEXT, "on_floor", "alcove.jpg", [3.5, 4])
    both = with_hint(once, "box", "alcove.jpg", [[1, 2], [3, 4]])
    hints = job_from_text(both).template.hints
    assert hints.on_floor == {"alcove.jpg": (3.5, 4)}
    assert hints.box == {"alcove.jpg": ((1, 2), (3, 4))}
