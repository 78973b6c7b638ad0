"""Findings as plain records."""

from collections.abc import Sequence
from typing import Literal

from pydantic import BaseModel, Field

from shapecut.findings import Finding
from shapecut.shape.placement import Point

__all__ = ["FindingRecord", "finding_records"]


class FindingRecord(BaseModel):
    """One thing to know about the job."""

    level: Literal["note", "check", "serious"]
    where: str
    what: str
    todo: str
    place: Point | None = Field(None, description="on the template, to look at")


def finding_records(findings: Sequence[Finding]) -> tuple[FindingRecord, ...]:
    """Write findings down, in their order."""
    return tuple(
        FindingRecord(
            level=finding.level.value,
            where=finding.where,
            what=finding.what,
            todo=finding.todo,
            place=finding.place_mm,
        )
        for finding in findings
    )
