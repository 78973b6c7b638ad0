"""Where `make` spends its time, each stage as a ratio to a floor measured in the same run.

    python -m tests.benchmarks.stages               # all of it
    python -m tests.benchmarks.stages photographs   # or: pieces, edges

The floor is what nobody can do without: decoding two 12 MP photographs and finding their marks with
OpenCV, start-up and imports included.  Times are processor time, which a busy machine hardly
changes; every run is a process of its own.  Five photographs are the two of the example at
other brightness, the one of 48 MP is enlarged from one of them.
"""

import json
import os
import re
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import cv2

from shapecut.examples import demo_job
from tests.benchmarks.make_two_photographs import FLOOR

STAGES = {
    "reading the pictures": "decode",
    "finding the cards": "marks",
    "surveying the plane": "survey",
    "tracing the template": "trace",
    "laying out the boards": "layout, stock",
    "writing": "papers",
}
"""What `make` reports at the beginning of each, and what it is called here."""

MEGAPIXELS = {
    "1 of 12 MP": (1, 1),
    "2 of 12 MP": (2, 1),
    "5 of 12 MP": (5, 1),
    "1 of 48 MP": (1, 2),
}


def main() -> None:
    """Print the tables."""
    floor = _floor()
    print(f"floor {floor:.2f} s of processor time; all else as multiples of it")
    with tempfile.TemporaryDirectory() as scratch:
        _typed(Path(scratch) / "compiled", 1000.0, 4)
        for name, table in (("photographs", _photographs), ("pieces", _pieces), ("edges", _edges)):
            if name in (sys.argv[1:] or [name]):
                table(Path(scratch) / name, floor)


def _floor() -> float:
    photos = [str(path) for path in sorted(demo_job().glob("*.jpg"))]
    return min(_processor_s([sys.executable, "-c", FLOOR, *photos]) for _ in range(3))


def _processor_s(arguments: list[str]) -> float:
    process = subprocess.Popen(arguments, stdout=subprocess.DEVNULL)
    _, status, usage = os.wait4(process.pid, 0)
    process.returncode = os.waitstatus_to_exitcode(status)
    assert process.returncode == 0, arguments
    return usage.ru_utime + usage.ru_stime


def _photographs(scratch: Path, floor: float) -> None:
    text = (demo_job() / "job.toml").read_text("utf-8")
    listed = 'photos = ["from_the_water.jpg", "from_the_door.jpg"]'
    assert listed in text
    made = {}
    for name, (count, factor) in MEGAPIXELS.items():
        job = scratch / name
        job.mkdir(parents=True)
        names = [_photograph(job, number, factor) for number in range(count)]
        (job / "job.toml").write_text(
            text.replace(listed, f"photos = {json.dumps(names)}"), "utf-8"
        )
        made[name] = _staged(job)
    _print(made, floor)


def _photograph(job: Path, number: int, factor: int) -> str:
    """Write one photograph into a job: one of the example's two, the same or changed."""
    source = ("from_the_water.jpg", "from_the_door.jpg")[number % 2]
    name = f"{number}.jpg"
    if number < 2 and factor == 1:
        (job / name).write_bytes((demo_job() / source).read_bytes())
        return name
    picture = cv2.imread(str(demo_job() / source))
    if factor > 1:
        picture = cv2.resize(picture, None, fx=factor, fy=factor, interpolation=cv2.INTER_CUBIC)
    cv2.imwrite(str(job / name), cv2.convertScaleAbs(picture, alpha=1 - 0.03 * number))
    return name


def _pieces(scratch: Path, floor: float) -> None:
    """Square floors of 1 to 64 m²."""
    sides = {f"{side**2} m²": 1000.0 * side for side in (1, 2, 4, 8)}
    _print({name: _typed(scratch / name, side, 4) for name, side in sides.items()}, floor)


def _edges(scratch: Path, floor: float) -> None:
    """A floor of 9 m² with ever more edges, a shallow saw's teeth all round."""
    counts = {f"{count} edges": count for count in (4, 400, 1600, 10_000)}
    _print({name: _typed(scratch / name, 3000.0, n) for name, n in counts.items()}, floor)


def _typed(job: Path, side_mm: float, edges: int) -> dict[str, float]:
    """The stages of a job on a square with teeth of 4 mm along its sides."""
    job.mkdir(parents=True)
    each = edges // 4
    lines = ["x mm, y mm"]
    for turn in ((0, 0, 1, 0), (1, 0, 0, 1), (1, 1, -1, 0), (0, 1, 0, -1)):
        x, y, dx, dy = turn
        for k in range(each):
            along, out = side_mm * k / each, 4.0 * (k % 2)
            lines.append(
                f"{x * side_mm + dx * along + dy * out},{y * side_mm + dy * along - dx * out}"
            )
    (job / "outline.csv").write_text("\n".join(lines) + "\n")
    (job / "job.toml").write_text(
        '[template]\noutline = "outline.csv"\n[boards]\nwidth = "140 mm"\n[joists]\n'
        'spacing = "400 mm"\n[joints]\n[stock]\nlengths = [{ length = "3 m", price = 9 }, '
        '{ length = "4.2 m", price = 12 }]\n'
    )
    return _staged(job)


def _print(made: dict[str, dict[str, float]], floor: float) -> None:
    stages = list(dict.fromkeys(stage for times in made.values() for stage in times))
    print("| |", " | ".join(made), "|")
    print("|---|" + "---|" * len(made))
    for stage in stages:
        unit = 1.0 if stage == "peak MB" else floor
        places = 0 if stage == "peak MB" else 2
        row = (f"{times.get(stage, 0.0) / unit:.{places}f}" for times in made.values())
        print(f"| {stage} |", " | ".join(row), "|", flush=True)


def _staged(job: Path) -> dict[str, float]:
    """Processor time of each stage of a job, in seconds, and its peak memory."""
    program = "from tests.benchmarks.stages import staged; staged()"
    environment = {k: v for k, v in os.environ.items() if k != "PYTHONDONTWRITEBYTECODE"}
    environment["PYTHONPYCACHEPREFIX"] = str(Path(tempfile.gettempdir()) / "shapecut-compiled")
    done = subprocess.run(
        [sys.executable, "-c", program, job],
        capture_output=True,
        text=True,
        env=environment,
        check=True,
    )
    times: dict[str, float] = json.loads(done.stdout)
    return times


def staged() -> None:
    """In a process of its own: make a job as the command does, and print when each stage began."""
    from shapecut.process import search_rarely_for_cycles, use_one_thread_for_matrices

    use_one_thread_for_matrices()
    search_rarely_for_cycles()
    from shapecut.job_folder import make_into

    began = {"start": 0.0}
    job = Path(sys.argv[1])
    make_into(
        job,
        job / "cut",
        replace=False,
        report=lambda step: began.setdefault(STAGES.get(step, step), time.process_time()),
    )
    ends = [*list(began.values())[1:], time.process_time()]
    times = {stage: end - at for (stage, at), end in zip(began.items(), ends, strict=True)}
    times["all"] = sum(times.values())
    status = Path("/proc/self/status").read_text()  # getrusage tells the parent's peak too
    times["peak MB"] = float(re.search(r"VmHWM:\s+(\d+) kB", status)[1]) / 1024
    print(json.dumps(times))


if __name__ == "__main__":
    main()
