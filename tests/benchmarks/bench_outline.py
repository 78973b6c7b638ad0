"""How soon a 12 MP photograph shows its outline at the bench, beside the command line's time.

From the step Outline being chosen to the frame that shows the outline over the photograph, and
`shapecut measure` of the same job as a fresh process, start-up included; turn about, medians
compared.  Times depend on the machine and on what else it does; the ratio hardly does.

    python -m tests.benchmarks.bench_outline
"""

import os
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from threading import Thread

from playwright.sync_api import Browser as Chromium
from playwright.sync_api import sync_playwright

from shapecut.bench.bench import Bench
from shapecut.bench.server import BenchServer
from tests.report_in_browser import Browser
from tests.test_bench_in_browser import FLAGS

JOB = Path(__file__).parent.parent.parent / "examples" / "alcove_shelf"
ROUNDS = 5

SHOWN = """
async () => {
  const begin = performance.now();
  location.hash = "#outline";
  while (!document.querySelector("#photo-view .line")) {
    await new Promise(done => setTimeout(done, 5));
    if (performance.now() - begin > 120000) throw new Error("no outline was shown");
  }
  await new Promise(done => requestAnimationFrame(() => setTimeout(done)));
  return (performance.now() - begin) / 1000;
}
"""


def at_bench(chromium: Chromium, folder: Path) -> float:
    """Seconds at the bench, the cards in the photograph already checked."""
    bench = Bench(folder)
    server = BenchServer(bench)
    Thread(target=server.serve_forever, daemon=True).start()
    page = chromium.new_page(viewport={"width": 1280, "height": 900})
    try:
        page.goto(server.gate.address)
        page.wait_for_timeout(2000)
        while any(one["state"] == "running" for one in bench.sitting.progress().values()):
            page.wait_for_timeout(200)
        page.wait_for_timeout(1000)
        return float(page.evaluate(SHOWN))
    finally:
        page.close()
        server.shutdown()
        bench.close()
        server.server_close()


def by_command_line(folder: Path, out: Path) -> float:
    """Seconds of `shapecut measure`."""
    call = "from shapecut.cli import main; main()"
    begin = time.perf_counter()
    arguments = [sys.executable, "-c", call, "measure", str(folder), "--out", str(out)]
    subprocess.run(arguments, check=True, stdout=subprocess.DEVNULL, env=os.environ)
    return time.perf_counter() - begin


def main() -> None:
    """Print the two medians and their ratio."""
    bench, command = [], []
    with tempfile.TemporaryDirectory() as scratch, sync_playwright() as running:
        browser = Browser.found(Path(scratch))
        if not browser:
            raise SystemExit("No Chromium is installed.")
        chromium = running.chromium.launch(executable_path=browser.program, args=FLAGS)
        for turn in range(ROUNDS):
            folder = Path(shutil.copytree(JOB, Path(scratch) / f"job{turn}"))
            command.append(by_command_line(folder, Path(scratch) / f"measured{turn}"))
            bench.append(at_bench(chromium, folder))
        chromium.close()
    for name, times in (("shapecut measure", command), ("bench", bench)):
        print(f"{name:17} {statistics.median(times):6.2f} s")
    print(f"ratio             {statistics.median(bench) / statistics.median(command):6.2f}")


if __name__ == "__main__":
    main()
