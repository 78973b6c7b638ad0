"""The table `[template]` of the job file: what the shape was taken from."""

from pathlib import Path
from typing import Annotated, Literal, Self

from pydantic import (
    BeforeValidator,
    Field,
    PlainSerializer,
    WithJsonSchema,
    model_validator,
)

from shapecut.drawings.outline_units import UnitName
from shapecut.job.hints import HintsTable
from shapecut.job.reference import TapeTable
from shapecut.job.taped import Taped
from shapecut.job.values import Length, PlainText, Table, length_field
from shapecut.trace.drawn import Drawn, LineSide, ShownAs
from shapecut.trace.regularity import Regularity, regularity_from_text
from shapecut.units import in_both_units

__all__ = ["Template"]

MeantRegularity = Annotated[
    Regularity,
    BeforeValidator(regularity_from_text),
    PlainSerializer(str),
    WithJsonSchema({"type": "string", "description": '"E2 square to E3"'}),
]

THICKEST_MM = 30.0
"""A template thicker than this is a slip of the pen."""


class Template(Table):
    """What the shape was taken from."""

    photos: tuple[PlainText, ...] = Field(
        (),
        description="photographs of the template among the cards, beside the job file; [] while "
        "they are yet to be taken",
    )
    scan: PlainText | None = Field(None, description="a flatbed scan of the template instead")
    scans: tuple[PlainText, ...] = Field(
        (), description="several scans instead, overlapping, joined by cards or points in both"
    )
    outline: PlainText | None = Field(
        None,
        description="an outline instead: an outline.json, measured or typed, or a .dxf, .svg or "
        ".csv file",
    )
    outline_units: UnitName | None = Field(
        None, description="of the numbers in that file, where it does not say or says it wrong"
    )
    outline_layers: tuple[PlainText, ...] = Field(
        (), description="layers (DXF) or groups (SVG) of that file that hold the outline"
    )
    taped: Taped | None = Field(None, description="distances taped on the spot instead")
    tapes: tuple[TapeTable, ...] = Field(
        (), description='distances taped over the template, between corners such as "E2/E3"'
    )
    camera: PlainText | None = Field(
        None, description="a camera.json that `shapecut camera` wrote, of all the photographs"
    )
    regular: tuple[MeantRegularity, ...] = Field(
        (),
        description='what was meant of two edges and is applied: "E2 square to E3", "E4 parallel '
        'to E1", "E1 in line with E5", "E2 as long as E4", "E6 same radius as E8", "E6 same '
        'centre as E8"',
    )
    thickness: Length = length_field("0 mm", "of the template; nought for paper")
    cards_on: Literal["floor", "template"] = Field("floor", description="where the cards lie")
    drawn: Drawn = Field(
        Drawn.SILHOUETTE,
        description="what the outline follows: the silhouette of a template that was cut out, a "
        "closed line drawn on paper, or the opening in the frame on which the cards lie",
    )
    line_side: LineSide | None = Field(
        None,
        description="which side of a drawn line is the outline, inner being within it; its centre "
        "if left out",
    )
    setting_out: bool = Field(
        False,
        description="whether to look for crosses, lines and arrows drawn within the outline with "
        "a dark marker",
    )
    hints: HintsTable = Field(
        default_factory=HintsTable,
        description="where the template lies, for pictures in which it is not found",
    )

    @model_validator(mode="after")
    def _one_source(self) -> Self:
        sources = ("photos", "scan", "scans", "outline", "taped")
        given = [key for key in sources if getattr(self, key)]
        if not given and "photos" in self.model_fields_set:
            given = ["photos"]  # an empty list: they are yet to be taken
        if len(given) != 1:
            has = " and ".join(given) or "none"
            raise ValueError(
                f"needs exactly one of photos, scan, scans, outline or taped; it has {has}"
            )
        if (self.outline_units or self.outline_layers) and not self.outline:
            raise ValueError("outline_units and outline_layers belong to outline; name its file")
        names = [Path(picture).name for picture in self.pictures]
        twice = next((name for name in names if names.count(name) > 1), None)
        if twice:
            raise ValueError(f"{given[0]} names {twice} twice; list each once, or rename one")
        same = next((tape for tape in self.tapes if len(set(tape.between)) == 1), None)
        if same:
            raise ValueError(f"a tape goes from {same.between[0]} to itself; name two corners")
        if self.thickness > THICKEST_MM:
            raise ValueError(
                f"thickness {in_both_units(self.thickness)} is more than "
                f"{in_both_units(THICKEST_MM)}; no template is"
            )
        if self.regular and not self.pictures:
            raise ValueError("regular is for an outline that is measured from pictures")
        if self.camera and not self.photos:
            raise ValueError("camera is for photographs; leave it out")
        return self

    @model_validator(mode="after")
    def _drawn_so(self) -> Self:
        if self.drawn is not Drawn.SILHOUETTE and not self.pictures:
            raise ValueError(f'drawn = "{self.drawn.value}" is for pictures; leave it out')
        if self.setting_out and not self.pictures:
            raise ValueError("setting_out is for pictures; leave it out")
        if self.line_side and self.drawn is not Drawn.LINE:
            raise ValueError('line_side is for drawn = "line"; leave it out')
        if self.drawn is Drawn.OPENING and not self.photos:
            raise ValueError('drawn = "opening" is for photographs; an opening cannot be scanned')
        if self.drawn is Drawn.OPENING and self.thickness:
            raise ValueError('drawn = "opening" has no template; leave thickness out')
        return self

    @model_validator(mode="after")
    def _hints_fit(self) -> Self:
        names = [Path(picture).name for picture in self.pictures]
        strange = sorted(self.hints.pictures.difference(names))
        if strange:
            raise ValueError(
                f"hints point into {strange[0]}, which is none of the pictures "
                f"({', '.join(names) or 'there are none'})"
            )
        if self.hints.pictures and self.drawn is not Drawn.SILHOUETTE:
            raise ValueError(f'hints are for a template; leave them out with "{self.drawn.value}"')
        return self

    @property
    def shown(self) -> ShownAs:
        """What the outline follows in the pictures."""
        side = self.line_side or LineSide.CENTRE
        return ShownAs(self.drawn, side, self.setting_out, self.hints.hints)

    @property
    def is_outline(self) -> bool:
        """Whether the outline is given, so that there is nothing to measure."""
        return bool(self.outline or self.taped)

    @property
    def pictures(self) -> tuple[str, ...]:
        """The photographs or scans."""
        return self.photos or self.scans or ((self.scan,) if self.scan else ())
