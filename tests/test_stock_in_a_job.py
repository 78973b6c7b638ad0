"""Stock in a whole job: slanted ends nest, offcuts are read, and what is left over is written."""

import json
from pathlib import Path

import pytest

from shapecut.errors import JobFileError
from shapecut.job.offcut_file import offcuts_from_text
from shapecut.job_folder import plan_into
from shapecut.stock.turns import Turn

CORNERS = [(0, 0), (300, 1150), (3100, 1150), (2600, 0)]
"""A landing whose two ends run aslant, 14.6° and 23.5° off square."""

JOB = """
title = "Skewed landing"
[template]
outline = "outline.json"
[edges]
others = "covered"
[boards]
width = "140 mm"
gap = "5 mm"
edges = "{edges}"
[stock]
{offcuts}
lengths = [{{ length = "3.6 m", price = 14.5 }}, {{ length = "5.4 m", price = 21.9 }}]
"""


def job_folder(folder: Path, *, edges: str = "grooved", offcuts: str = "") -> Path:
    sides = zip(CORNERS, [*CORNERS[1:], CORNERS[0]], strict=True)
    ring = [
        {"name": f"E{i}", "kind": "line", "from": start, "to": end}
        for i, (start, end) in enumerate(sides, start=1)
    ]
    outline = {"units": "mm", "rings": [{"kind": "outer", "edges": ring}]}
    (folder / "outline.json").write_text(json.dumps(outline), encoding="utf-8")
    (folder / "job.toml").write_text(JOB.format(edges=edges, offcuts=offcuts), encoding="utf-8")
    return folder


def test_slanted_rows_share_boards_end_for_end(tmp_path: Path) -> None:
    made = plan_into(job_folder(tmp_path), tmp_path / "planned", replace=False)
    plan = made.plan.cut_plan
    assert plan.proved
    assert {c.turn for b in plan.boards for c in b.cuts} == {Turn.AS_LAID, Turn.END_FOR_END}
    whole, *_, mix = made.plan.alternatives
    assert whole.cost is not None
    assert mix.cost == plan.cost
    assert mix.cost <= whole.cost
    record = json.loads((tmp_path / "planned" / "plan.json").read_text(encoding="utf-8"))
    turns = {cut["turn"] for board in record["boards_to_buy"] for cut in board["cuts"]}
    assert turns == {"as laid", "end for end"}


def test_boards_with_a_tongue_stay_as_laid_and_cost_more(tmp_path: Path) -> None:
    (tmp_path / "a").mkdir()
    (tmp_path / "b").mkdir()
    grooved = plan_into(job_folder(tmp_path / "a"), tmp_path / "1", replace=False)
    tongued = plan_into(job_folder(tmp_path / "b", edges="unlike"), tmp_path / "2", replace=False)
    cuts = [cut for board in tongued.plan.cut_plan.boards for cut in board.cuts]
    assert {cut.turn for cut in cuts} == {Turn.AS_LAID}
    assert tongued.plan.cut_plan.cost > grooved.plan.cut_plan.cost  # type: ignore[operator]


def test_what_one_job_leaves_over_the_next_one_cuts_from(tmp_path: Path) -> None:
    (tmp_path / "a").mkdir()
    (tmp_path / "b").mkdir()
    plan_into(job_folder(tmp_path / "a"), tmp_path / "first", replace=False)
    left = (tmp_path / "first" / "offcuts.toml").read_text(encoding="utf-8")
    assert offcuts_from_text(left)
    text = left + '[[offcuts]]\nname = "long one"\nlength = "3.2 m"\n'
    folder = job_folder(tmp_path / "b", offcuts='offcuts = "spare.toml"')
    (folder / "spare.toml").write_text(text, encoding="utf-8")
    made = plan_into(folder, tmp_path / "second", replace=False)
    used = {b.stock.on_hand.name for b in made.plan.cut_plan.boards if b.stock.on_hand}
    assert "long one" in used
    buying = (tmp_path / "second" / "boards-to-buy.csv").read_text(encoding="utf-8-sig")
    bought = sum(int(line.split(",")[0]) for line in buying.splitlines()[1:])
    assert bought == len(list(made.plan.cut_plan.bought)) < len(made.plan.cut_plan.boards)


def test_offcuts_that_are_not_there_are_named(tmp_path: Path) -> None:
    folder = job_folder(tmp_path, offcuts='offcuts = "spare.toml"')
    with pytest.raises(JobFileError, match=r"spare\.toml cannot be read"):
        plan_into(folder, tmp_path / "planned", replace=False)
