"""JSON Schemas (draft 2020-12) of the job file and of each result.

They lie beside this module; `python -m shapecut.schemas` writes them anew from the models.
"""

from collections.abc import Callable
from pathlib import Path
from typing import Any

from shapecut.job.job import Job
from shapecut.papers.json_text import readable_json
from shapecut.papers.plan_records import PlanFile
from shapecut.papers.records import JobResult
from shapecut.shape.outline_file import OutlineFile
from shapecut.survey.camera_file import CameraFile

__all__ = ["SCHEMAS", "schema_text", "write_schemas"]

DIALECT = {"$schema": "https://json-schema.org/draft/2020-12/schema"}

SCHEMAS: dict[str, Callable[[], dict[str, Any]]] = {
    "job.toml.schema.json": Job.model_json_schema,
    "outline.json.schema.json": OutlineFile.model_json_schema,
    "plan.json.schema.json": lambda: PlanFile.model_json_schema(mode="serialization"),
    "camera.json.schema.json": CameraFile.model_json_schema,
    "job.json.schema.json": lambda: JobResult.model_json_schema(mode="serialization"),
}
"""By file name."""


def schema_text(name: str) -> str:
    """The text of one schema."""
    return readable_json(DIALECT | SCHEMAS[name]())


def write_schemas(folder: Path) -> None:
    """Write all schemas into a folder."""
    for name in SCHEMAS:
        (folder / name).write_text(schema_text(name), encoding="utf-8")
