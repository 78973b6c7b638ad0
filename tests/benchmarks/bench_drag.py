"""How long a row takes to follow the pointer at the bench: 40 rows with joints, in Chromium.

Run `python -m tests.benchmarks.bench_drag`; needs Chromium.  Each time is from a pointer's move to
the frame that shows the rows so.  Times depend on the machine and on what else it does, so beside
them stand the parts they are made of, and the ratio to 5 million steps of a Python loop in the same
run.
"""

import json
import statistics
import tempfile
import time
from pathlib import Path
from threading import Thread

from playwright.sync_api import Page, sync_playwright

from shapecut.bench.bench import Bench
from shapecut.bench.job_store import Edit, edited
from shapecut.bench.scene import rows_scene
from shapecut.bench.server import BenchServer
from shapecut.job.reading import job_from_text
from shapecut.job_stages import job_outline, job_rows
from shapecut.papers.json_text import readable_json
from shapecut.shape.outline_file import outline_record
from tests.benchmarks.plan_field import field, loop, timed
from tests.report_in_browser import Browser
from tests.test_bench_in_browser import FLAGS

MOVES = 40

JOB = """
title = "Forty rows"

[template]
outline = "outline.json"

[edges]
others = "covered"

[boards]
width = "140 mm"
thickness = "28 mm"
gap = "5 mm"
direction = "along E1"
start = "E1"
{joints}
[stock]
kerf = "3 mm"
lengths = [{{ length = "3.6 m", price = 21.0 }}, {{ length = "{longest}", price = 29.0 }}]
"""

JOINTS = """
[joists]
spacing = "400 mm"
first = "19 mm"
measured_from = "E4"

[joints]
offset = "800 mm"
shortest = "600 mm"
gap = "3 mm"
"""

MOVED = """
async ([x, y]) => {
  const rows = document.querySelector(".pieces"), first = () => rows.firstElementChild;
  const before = first(), begin = performance.now();
  before.dispatchEvent(new PointerEvent("pointermove",
    { clientX: x, clientY: y, bubbles: true, pointerId: 1 }));
  while (first() === before) await new Promise(done => setTimeout(done));
  await new Promise(done => requestAnimationFrame(() => setTimeout(done)));
  return performance.now() - begin;
}
"""


def folder_of(at: Path, *, joints: bool) -> Path:
    """A job folder of 40 rows."""
    (at / "outline.json").write_text(readable_json(outline_record(field())), encoding="utf-8")
    longest = "4.8 m" if joints else "12 m"
    text = JOB.format(joints=JOINTS if joints else "", longest=longest)
    (at / "job.toml").write_text(text, encoding="utf-8")
    return at


def dragged(page: Page) -> list[float]:
    """How long each move takes, ms."""
    box = page.locator(".piece").nth(20).bounding_box()
    assert box
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    times = [page.evaluate(MOVED, [x, y - 3 - move % 7]) for move in range(MOVES)]
    page.mouse.up()
    return times


def in_browser(folder: Path) -> list[float]:
    """Drag the rows of a job at the bench."""
    bench = Bench(folder)
    server = BenchServer(bench)
    Thread(target=server.serve_forever, daemon=True).start()
    browser = Browser.found(folder)
    if not browser:
        raise SystemExit("No Chromium is installed.")
    try:
        with sync_playwright() as running:
            chromium = running.chromium.launch(executable_path=browser.program, args=FLAGS)
            page = chromium.new_page(viewport={"width": 1280, "height": 900})
            page.goto(server.gate.address)
            page.goto(f"{page.url.split('#')[0]}#boards")
            page.wait_for_selector("#start-at")
            dragged(page)  # First calls are not counted.
            page.wait_for_timeout(1000)
            times = dragged(page)
            chromium.close()
    finally:
        server.shutdown()
        bench.close()
        server.server_close()
    return times


def server_parts(folder: Path) -> dict[str, float]:
    """What the server does of it, ms: medians."""
    text = (folder / "job.toml").read_text(encoding="utf-8")
    parts: dict[str, list[float]] = {}

    def clocked(name: str, begin: float) -> float:
        now = time.perf_counter()
        parts.setdefault(name, []).append(1000 * (now - begin))
        return now

    for move in range(MOVES):
        begin = time.perf_counter()
        edit = Edit("boards", "start", f"{move % 9 + 1} mm from E1")
        job = job_from_text(edited(text, [edit]))
        begin = clocked("job file", begin)
        given = job_outline(folder, job)
        begin = clocked("outline", begin)
        layout = job_rows(job, given)
        begin = clocked("rows", begin)
        json.dumps(rows_scene(layout))
        clocked("drawing as JSON", begin)
    return {name: statistics.median(times) for name, times in parts.items()}


def main() -> None:
    """Print the times."""
    loop_s, _ = timed(loop)
    print(f"5000000 steps of a loop                 {1000 * loop_s:6.1f} ms")
    for joints in (False, True):
        with tempfile.TemporaryDirectory() as scratch:
            folder = folder_of(Path(scratch), joints=joints)
            times = in_browser(folder)
            parts = server_parts(folder)
        median, slow = statistics.median(times), sorted(times)[int(0.95 * MOVES)]
        what = "with joists and joints" if joints else "whole rows"
        print(
            f"40 rows, {what:30} {median:6.1f} ms, 95 of 100 within {slow:.1f} ms; "
            f"{median / loop_s / 1000:.2f} times the loop"
        )
        for name, part in parts.items():
            print(f"  of that, {name:28} {part:6.1f} ms")


if __name__ == "__main__":
    main()
