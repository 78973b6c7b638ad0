"""What importing a stage loads: its own libraries and no other's."""

import subprocess
import sys

import pytest

HEAVY = {"PIL", "cv2", "ezdxf", "highspy", "pydantic", "reportlab", "shapely", "skimage"}

LOADS = {
    "cli": set(),
    "capture.marks": {"PIL", "cv2"},
    "survey.adjust": {"PIL", "cv2"},
    "trace.trace": {"PIL", "cv2", "shapely", "skimage"},
    "shape.region": set(),
    "drawings.outline_import": {"pydantic"},
    "layout.edging": {"shapely"},
    "stock.plan": set(),
    "papers.dxf": {"ezdxf"},
    "papers.svg": set(),
    "papers.tiles": {"PIL", "reportlab", "shapely"},
    # `measure` and `plan`; only `make` writes DXF and PDF.
    "job_folder": {"PIL", "cv2", "pydantic", "shapely", "skimage"},
}
"""Of `HEAVY` what a module may load, with all that it imports."""


@pytest.mark.parametrize("module", LOADS)
def test_a_stage_loads_no_library_of_another_stage(module):
    code = f"import sys, shapecut.{module}; print(*sys.modules)"
    loaded = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True
    ).stdout.split()
    assert HEAVY.intersection(loaded) == LOADS[module]
