"""The step of the supports: joists under the rows, blocking where nothing carries, and joints."""

from collections.abc import Mapping

from shapecut.bench.desk import Call, Desk, Values
from shapecut.bench.long_step import LongStep
from shapecut.bench.rows import Rows
from shapecut.bench.scene import finding_values, lengths_of
from shapecut.job.job import Job
from shapecut.job_stages import job_supports
from shapecut.layout.layout import Layout
from shapecut.layout.span_limits import SOURCE
from shapecut.layout.supports import CAUTION, Supports
from shapecut.papers.drawing import Layer, Text
from shapecut.papers.markup import Lengths
from shapecut.papers.supports_drawing import drawing_of_supports, joist_name
from shapecut.papers.svg import path_data

__all__ = ["SupportsStep"]


class SupportsStep:
    """What carries the boards."""

    name = "supports"
    calls: Mapping[str, Call] = {}
    long_steps: Mapping[str, LongStep] = {}

    def __init__(self, desk: Desk, rows: Rows) -> None:
        """Work out what carries the rows of the job on a desk."""
        self._tracing, self._rows = desk.tracing, rows

    def shown(self, job: Job) -> Values:
        """Joists, blocking and joints as they are drawn, and how far boards span."""
        values: Values = {"caution": CAUTION, "source": SOURCE}
        if job.joists is None:
            return values
        given = self._tracing.outline(job)
        layout = self._rows.layout(job, given)
        supports = job_supports(job, given, layout)
        return (
            values
            if supports is None
            else values | _supports_values(layout, supports, lengths_of(job))
        )


def _supports_values(layout: Layout, supports: Supports, lengths: Lengths) -> Values:
    drawing = drawing_of_supports(layout, supports, "")
    spans = [piece.span_mm for piece in supports.pieces if piece.span_mm is not None]
    return {
        "joists": path_data(drawing.on(Layer.JOIST).strokes),
        "names": [_name_values(text) for text in drawing.on(Layer.EDGE_NAME).texts],
        "blocks": [
            {
                "path": path_data([stroke]),
                "length": lengths.short(block.length_mm),
                "between": [joist_name(number) for number in block.joists],
                "carries": block.labels,
            }
            for block, stroke in zip(
                supports.blocks, drawing.on(Layer.BLOCKING).strokes, strict=True
            )
        ],
        "joints": [[joint.place[0], -joint.place[1]] for joint in layout.joints],
        "count": len(supports.joists.lines_mm),
        "longest_span": lengths.short(max(spans)) if spans else "",
        "longest_spacing": lengths.short(supports.longest_spacing_mm)
        if supports.longest_spacing_mm
        else "",
        "findings": finding_values(supports.findings),
    }


def _name_values(text: Text) -> Values:
    return {"name": text.text, "at": [text.at[0], -text.at[1]], "height": text.height_mm}
