"""The whole job file as a checked model: its tables, and what must hold between them."""

from collections.abc import Mapping
from pathlib import Path
from typing import Self

from pydantic import Field, model_validator

from shapecut.job.boards import Boards, JointTable, JoistTable, SawTable
from shapecut.job.cards import Cards
from shapecut.job.corrections import CorrectionTable
from shapecut.job.edges import Allowances, BorderTable, BreakerTable, LeftLong
from shapecut.job.fittings import BlockingTable, FasciaTable, FastenerTable, PointsTable, StripTable
from shapecut.job.papers import Papers
from shapecut.job.reference import Reference
from shapecut.job.stock import StockTable
from shapecut.job.template import Template
from shapecut.job.values import PlainText, Table
from shapecut.shape.outline import Treatment
from shapecut.units import in_both_units

__all__ = ["LONGEST_TITLE", "OTHERS", "Job"]

OTHERS = "others"
"""The key under which a job states the treatment of every edge it does not name."""

LONGEST_TITLE = 200
"""Characters of a job's title, at most: it stands on every page."""


class Job(Table):
    """The whole job file; its JSON Schema is published with the package."""

    title: PlainText = Field("Boards", min_length=1, max_length=LONGEST_TITLE)
    template: Template
    cards: Cards = Field(default_factory=Cards)
    reference: Reference = Field(
        default_factory=Reference,
        description="sheets of paper or taped points, beside or for cards",
    )
    corrections: tuple[CorrectionTable, ...] = Field(
        (), description="what was traced wrongly, settled by the person"
    )
    edges: Mapping[str, Treatment] = Field(
        {}, description='what the boards meet at each edge; "others" for the edges not named'
    )
    allowances: Allowances = Field(default_factory=Allowances)
    boards: Boards
    joists: JoistTable | None = Field(None, description="what the boards lie on")
    joints: JointTable | None = Field(
        None, description="of rows longer than any board; without it such rows are refused"
    )
    saw: SawTable = Field(default_factory=SawTable)
    border: BorderTable | None = Field(None, description="boards along edges, round the rows")
    breakers: tuple[BreakerTable, ...] = Field((), description="boards across the field")
    left_long: Mapping[str, LeftLong] = Field(
        {}, description="how far boards are cut long at an edge, to be trimmed in place"
    )
    fasteners: FastenerTable | None = Field(None, description="what holds the boards down")
    blocking: BlockingTable | None = Field(None, description="timber that blocking is cut from")
    fascia: FasciaTable | None = Field(None, description="boards that cover the frame's edges")
    points: tuple[PointsTable, ...] = Field((), description="evenly spaced lights or balusters")
    strips: tuple[StripTable, ...] = Field((), description="goods sold by length, along edges")
    stock: StockTable
    papers: Papers = Field(default_factory=Papers)

    @model_validator(mode="after")
    def _joints_lie_over_joists(self) -> Self:
        if self.joints and not self.joists:
            raise ValueError(
                "joints needs [joists]: joints lie over them; state their spacing, or list them"
            )
        if self.joints and self.joists and self.joints.gap >= self.joists.width:
            raise ValueError(
                f"joints.gap {in_both_units(self.joints.gap)} is no less than the width of the "
                f"joists, {in_both_units(self.joists.width)}; neither board would lie on the joist "
                "under the joint"
            )
        return self

    @model_validator(mode="after")
    def _fasteners_go_into_joists(self) -> Self:
        if self.fasteners and not self.joists:
            raise ValueError(
                "fasteners needs [joists]: fasteners go into them; state their spacing, or list "
                "them"
            )
        if self.fasteners and self.fasteners.kind == "clips" and self.boards.edges != "grooved":
            raise ValueError(
                f'fasteners.kind = "clips" needs grooves, and boards.edges are '
                f'"{self.boards.edges}"; write edges = "grooved", or kind = "screws"'
            )
        return self

    @model_validator(mode="after")
    def _blocking_goes_between_joists(self) -> Self:
        if self.blocking and not self.joists:
            raise ValueError(
                "blocking needs [joists]: it goes between them; state their spacing, or list them"
            )
        return self

    @model_validator(mode="after")
    def _points_keep_clear_of_joists(self) -> Self:
        unseen = next((row for row in self.points if row.clear_of_joists is not None), None)
        if unseen and not self.joists:
            raise ValueError(
                f"points {unseen.name}: clear_of_joists needs [joists]; state their spacing, or "
                "list them"
            )
        return self

    @model_validator(mode="after")
    def _names_are_told_apart(self) -> Self:
        for key, tables in (("points", self.points), ("strips", self.strips)):
            names = [table.name for table in tables]
            twice = next((name for name in names if names.count(name) > 1), None)
            if twice:
                raise ValueError(f"two of {key} are called {twice}; give each a name of its own")
        return self

    @model_validator(mode="after")
    def _trims_no_wall(self) -> Self:
        others = self.edges.get(OTHERS)
        walled = [edge for edge in self.left_long if self.edges.get(edge, others) is Treatment.WALL]
        if walled:
            raise ValueError(
                f"left_long names {walled[0]}, which is a wall: boards cannot pass it to be "
                "trimmed in place; leave it out of left_long"
            )
        return self

    @model_validator(mode="after")
    def _trims_no_border(self) -> Self:
        both = [edge for edge in self.left_long if self.border and edge in self.border.edges]
        if both:
            raise ValueError(
                f"left_long and border.edges both name {both[0]}; behind a border nothing is left "
                f"to trim, so name it in one of them"
            )
        return self

    @model_validator(mode="after")
    def _corrects_what_was_traced(self) -> Self:
        if self.corrections and not self.template.pictures:
            raise ValueError(
                "corrections are for an outline that is measured from pictures; change the given "
                "outline itself"
            )
        return self

    @model_validator(mode="after")
    def _references_are_seen(self) -> Self:
        pictures = [Path(picture).name for picture in self.template.pictures]
        strange = sorted(self.reference.pictures.difference(pictures))
        if strange:
            raise ValueError(
                f"reference points at something in {strange[0]}, which is none of the pictures "
                f"({', '.join(pictures) or 'there are none'})"
            )
        if self.template.photos and self.reference.points and not self.reference.tapes:
            raise ValueError("reference.points needs reference.tapes, the distances between them")
        if not self.template.photos and (self.reference.sheets or self.reference.tapes):
            raise ValueError(
                "reference.sheets and reference.tapes are for photographs; scans take their scale "
                "from cards or their dpi"
            )
        return self
