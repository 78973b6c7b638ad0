"""The job file `job.toml`: everything a person decides, read into a checked model.

Lengths are trade lengths with their unit (`units.py`); here they become millimetres.  Every mistake
is answered with its key, what was given and what is allowed.
"""

import difflib
import tomllib
from collections.abc import Iterator, Mapping
from decimal import Decimal
from pathlib import Path
from typing import Annotated, Any, Literal, Self, get_args

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    Field,
    PlainSerializer,
    ValidationError,
    WithJsonSchema,
    model_validator,
)
from pydantic_core import ErrorDetails

from shapecut.drawings.outline_units import UnitName
from shapecut.errors import JobFileError
from shapecut.job.boards import Boards, JointTable, JoistTable, SawTable
from shapecut.job.corrections import CorrectionTable
from shapecut.job.edges import BorderTable, BreakerTable, LeftLong
from shapecut.job.fittings import BlockingTable, FasciaTable, FastenerTable, PointsTable, StripTable
from shapecut.job.hints import HintsTable
from shapecut.job.offcut_file import OffcutTable
from shapecut.job.papers import Papers
from shapecut.job.reference import Reference, TapeTable
from shapecut.job.taped import Taped
from shapecut.job.values import (
    Length,
    Percent,
    PlainText,
    PositiveLength,
    SoldLength,
    Table,
    length_field,
    not_empty,
)
from shapecut.shape.outline import Treatment
from shapecut.trace.drawn import Drawn, LineSide, ShownAs
from shapecut.trace.regularity import Regularity, regularity_from_text

__all__ = [
    "JOB_FILE",
    "LONGEST_TITLE",
    "OTHERS",
    "Boards",
    "Cards",
    "Job",
    "cards_from_values",
    "job_from_text",
    "read_job",
]

JOB_FILE = "job.toml"

OTHERS = "others"
"""The key under which a job states the treatment of every edge it does not name."""

LONGEST_TITLE = 200
"""Characters of a job's title, at most: it stands on every page."""

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
        (), description="photographs of the template among the cards, beside the job file"
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
                f"thickness {self.thickness:g} mm is more than {THICKEST_MM:g} mm; no template is"
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


class OwnMark(Table):
    """One mark on a card of the user's own."""

    number: int = Field(ge=0)
    at: tuple[Length, Length] = Field(description="its centre from the card's lower left corner")
    side: PositiveLength = Field(description="side of its black square")
    turn_deg: float = Field(0.0, description="counter-clockwise, as printed")


class OwnCard(Table):
    """A card of the user's own with several marks."""

    name: str
    marks: Annotated[tuple[OwnMark, ...], AfterValidator(not_empty)]


class OwnCards(Table):
    """Marks that were not printed by `shapecut cards`."""

    dictionary: str = Field(description='an OpenCV dictionary, e.g. "AprilTag 36h11"')
    side: PositiveLength | None = Field(
        None, description="side of the black square, when every card carries one mark"
    )
    card: tuple[OwnCard, ...] = Field((), description="cards with several marks at stated places")

    @model_validator(mode="after")
    def _side_or_cards(self) -> Self:
        if (self.side is None) == (not self.card):
            raise ValueError("needs either side (one mark a card) or [[cards.own.card]] tables")
        return self


class Cards(Table):
    """The reference cards in the photographs."""

    bar_along: PositiveLength | None = Field(
        None, description="the 100 mm check bar along the sheet, as you measured it"
    )
    bar_across: PositiveLength | None = Field(
        None, description="the 100 mm check bar across the sheet, as you measured it"
    )
    own: OwnCards | None = None
    tapes: tuple[TapeTable, ...] = Field(
        (), description="distances taped between the crosses of two cards, by the cards' names"
    )

    @model_validator(mode="after")
    def _bars_belong_to_printed_cards(self) -> Self:
        if self.own and (self.bar_along or self.bar_across):
            raise ValueError(
                "bar_along and bar_across are for printed cards; own marks state a side"
            )
        return self


class Allowances(Table):
    """How far the boards stay back from, or reach past, an edge of each treatment."""

    wall: Length = length_field("6 mm", "expansion gap left at walls and posts")
    covered: Length = length_field("0 mm", "left short under a fascia or trim")
    exposed: Length = length_field("2 mm", "cut outside the line, to be sanded back to it")
    overhang: Length = length_field("25 mm", "nosing past the frame")
    butt: Length | None = Field(None, description="to the next board; the board gap if left out")


class StockTable(Table):
    """What the yard sells, and the saw."""

    lengths: Annotated[tuple[SoldLength, ...], AfterValidator(not_empty)]
    kerf: Length = length_field("3 mm", "width of the saw cut")
    squared_end: Length = length_field(
        "0 mm", "taken off either end of a bought board to square it"
    )
    offcuts: PlainText | None = Field(
        None, description="an offcuts.toml of boards on hand, as an earlier job wrote it"
    )
    on_hand: tuple[OffcutTable, ...] = Field((), description="boards on hand, stated here")
    search_seconds: float = Field(
        3.0, gt=0, le=3600, description="longest search for cheaper boards"
    )
    keep: Length = length_field("300 mm", "offcuts at least this long are kept for the next job")
    spare_percent: Percent = Field(
        0, description="boards bought on top, of the longest ones that are bought"
    )
    currency: PlainText = Field("", max_length=12, description="written behind prices")


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


def job_from_text(text: str, name: str = JOB_FILE) -> Job:
    """Read a job.

    Args:
        text: TOML; Windows line endings and a byte order mark are fine.
        name: The file's name, for the error's sentence.

    Raises:
        JobFileError: One line for each mistake: the key, what was given, what is allowed.
    """
    try:
        values = tomllib.loads(text.removeprefix("\ufeff"), parse_float=Decimal)
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        raise JobFileError(f"{name} is not TOML: {error}.") from None
    try:
        return Job.model_validate(values)
    except ValidationError as error:
        lines = [f"{name}: {_mistake(details)}" for details in error.errors()]
        raise JobFileError("\n".join(lines)) from None


def cards_from_values(stated: Mapping[str, str | None], own: Mapping[str, str | None]) -> Cards:
    """The `[cards]` table of a job without a job file.

    Args:
        stated: Its keys and values; None where nothing is stated.
        own: The same of its `own` table.

    Raises:
        JobFileError: One line for each mistake.
    """
    values: dict[str, Any] = {key: value for key, value in stated.items() if value}
    marks = {key: value for key, value in own.items() if value}
    try:
        return Cards.model_validate(values | ({"own": marks} if marks else {}))
    except ValidationError as error:
        lines = []
        for details in error.errors():
            details["loc"] = ("cards", *details["loc"])
            lines.append(_mistake(details))
        raise JobFileError("\n".join(lines)) from None


def read_job(folder: Path) -> Job:
    """Read `job.toml` in a job folder.

    Raises:
        JobFileError: When it is missing, unreadable, or mistaken.
    """
    path = folder / JOB_FILE
    try:
        return job_from_text(path.read_text(encoding="utf-8"), path.name)
    except FileNotFoundError:
        raise JobFileError(
            f"{folder} has no {JOB_FILE}: name a job folder, or start one with `shapecut new`."
        ) from None
    except (OSError, UnicodeDecodeError) as error:
        reason = getattr(error, "strerror", None) or "it is not UTF-8 text"
        raise JobFileError(f"{path} cannot be read: {reason}.") from None


def _mistake(details: ErrorDetails) -> str:
    """One sentence on one mistake."""
    place = details["loc"]
    key = ".".join(str(part) for part in place)
    if details["type"] == "extra_forbidden":
        known = list(_known_keys(place[:-1]))
        near = difflib.get_close_matches(str(place[-1]), known, n=1)
        hint = f"did you mean {near[0]}?" if near else f"known here: {', '.join(known)}."
        return f"{key} is not a key of the job file; {hint}"
    if details["type"] == "missing":
        return f"{key} is missing: {_description(place)}."
    reason = details["msg"].removeprefix("Value error, ")
    if isinstance(details["input"], (Mapping, BaseModel)):
        return f"{key or 'the job'}: {reason.rstrip('.')}."
    return f"{key} = {_as_written(details['input'])}: {reason[0].lower()}{reason[1:].rstrip('.')}."


def _as_written(value: object) -> str:
    text = f'"{value}"' if isinstance(value, str) else str(value)
    return text if len(text) <= 60 else f"{text[:57]}..."


def _known_keys(place: tuple[int | str, ...]) -> Iterator[str]:
    table = _table_at(place)
    yield from table.model_fields if table else ()


def _description(place: tuple[int | str, ...]) -> str:
    table = _table_at(place[:-1])
    field = table.model_fields.get(str(place[-1])) if table else None
    return field.description if field and field.description else "add it"


def _table_at(place: tuple[int | str, ...]) -> type[BaseModel] | None:
    """The model of the table at a place such as ("stock", "lengths", 0)."""
    table: type[BaseModel] = Job
    for part in place:
        if isinstance(part, int):
            continue
        field = table.model_fields.get(part)
        inner = next(_models_in(field.annotation), None) if field else None
        if inner is None:
            return None
        table = inner
    return table


def _models_in(annotation: Any) -> Iterator[type[BaseModel]]:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        yield annotation
    for argument in get_args(annotation):
        yield from _models_in(argument)
