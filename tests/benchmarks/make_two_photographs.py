"""Wall time and peak memory of `shapecut make` on two 12 MP photographs, beside their floor.

The floor is what nobody can do without: decoding the same two photographs and finding their marks
with OpenCV, in one process, start-up and imports included.  Both are run as fresh processes, turn
about, and the medians compared.  Modules are compiled beforehand, as an installation does, whatever
the environment says about keeping byte code.

    python -m tests.benchmarks.make_two_photographs
"""

import os
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

JOB = Path(__file__).parent.parent.parent / "examples" / "boathouse_step"
ROUNDS = 5

FLOOR = """
import sys, cv2
detector = cv2.aruco.ArucoDetector(
    cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_APRILTAG_36h11)
)
for name in sys.argv[1:]:
    picture = cv2.imread(name)
    corners, numbers, _ = detector.detectMarkers(cv2.cvtColor(picture, cv2.COLOR_BGR2GRAY))
    assert len(numbers) >= 4
"""


def timed(arguments: list[str], environment: dict[str, str]) -> tuple[float, float]:
    """Run a process; its wall time in seconds and peak resident memory in MB."""
    start = time.perf_counter()
    process = subprocess.Popen(arguments, stdout=subprocess.DEVNULL, env=environment)
    _, status, usage = os.wait4(process.pid, 0)
    wall = time.perf_counter() - start
    process.returncode = os.waitstatus_to_exitcode(status)
    if process.returncode:
        raise SystemExit(f"{arguments[:4]} failed with {process.returncode}")
    return wall, usage.ru_maxrss / 1024


def main() -> None:
    """Print the two medians and their ratio."""
    photos = [str(path) for path in sorted(JOB.glob("*.jpg"))]
    floors, makes = [], []
    with tempfile.TemporaryDirectory() as scratch:
        environment = {k: v for k, v in os.environ.items() if k != "PYTHONDONTWRITEBYTECODE"}
        environment["PYTHONPYCACHEPREFIX"] = str(Path(scratch) / "compiled")
        imports = "import shapecut.job_folder, shapecut.summary"
        timed([sys.executable, "-c", imports], environment)
        for turn in range(ROUNDS):
            floors.append(timed([sys.executable, "-c", FLOOR, *photos], environment))
            out = str(Path(scratch) / str(turn))
            call = "from shapecut.cli import main; main()"
            make = [sys.executable, "-c", call, "make", str(JOB), "--out", out]
            makes.append(timed(make, environment))
    for name, runs in (("decode + detect", floors), ("shapecut make", makes)):
        wall, peak = (statistics.median(values) for values in zip(*runs, strict=True))
        print(f"{name:16} {wall:6.2f} s  {peak:6.0f} MB")
    ratio = statistics.median(w for w, _ in makes) / statistics.median(w for w, _ in floors)
    print(f"ratio            {ratio:6.2f}")


if __name__ == "__main__":
    main()
