"""Time and memory of all papers of a job of 60 pieces, libraries already imported.

python -m tests.benchmarks.papers_sixty
"""

import resource
import time
from collections.abc import Sequence
from pathlib import Path
from tempfile import TemporaryDirectory

from shapecut.job.job import Job
from shapecut.results import Made, Pictures, write_papers, write_plan, write_report
from shapecut.shape.outline import Outline
from shapecut.stages.planning import plan
from tests.scenes import outline_of, rounded

PIECES = 60

KINDS = (("plan",), ("plan", "cuts", "placing"))
"""Full-scale pages that are written: as when nothing is said, and all of a job without holes."""


def floor() -> Outline:
    """A walk of 60 boards along a bank, round at one end."""
    corners = [(0, 0), (1350, 40), (1420, 3100), (1290, 5910), (900, 5940), (20, 5920)]
    return outline_of(rounded([(float(x), float(y)) for x, y in corners], {0: 300.0, 5: 420.0}))


def job(kinds: Sequence[str]) -> Job:
    """Sixty boards, six to eight of which go into a bought one."""
    return Job.model_validate(
        {
            "title": "Walk along the bank",
            "template": {"outline": "outline.json"},
            "boards": {"width": "95 mm", "gap": "5 mm"},
            "stock": {"lengths": [{"length": "4.8 m"}]},
            "papers": {"tiles": list(kinds)},
        }
    )


def main() -> None:
    """Print the figures."""
    settings = job(KINDS[0])
    planned = plan(floor(), settings.boards, settings.allowances, settings.stock)
    for kinds in KINDS:
        made = Made(job(kinds), None, planned)
        with TemporaryDirectory() as folder:
            began, cpu = time.perf_counter(), time.process_time()
            write_plan(Path(folder), made)
            write_papers(Path(folder), made)
            write_report(Path(folder), made, Pictures())
            took, worked = time.perf_counter() - began, time.process_time() - cpu
            files = [path for path in Path(folder).rglob("*") if path.is_file()]
        peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        print(
            f"{len(planned.layout.pieces)} pieces, {len(files)} files, pages: {', '.join(kinds)}: "
            f"{took:.2f} s, {worked:.2f} s of processor time, peak memory {peak:.0f} MB"
        )


if __name__ == "__main__":
    main()
