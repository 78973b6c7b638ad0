"""The tables of the job file about boards and what carries them: `[boards]`, `[joists]`, ...."""

import math
import re
from itertools import pairwise
from typing import Annotated, Any, Literal, Self

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    WithJsonSchema,
    model_validator,
)

from shapecut.job.values import Length, PositiveLength, Table, length_field
from shapecut.layout.board_sizes import actual_size_mm
from shapecut.layout.rules import RowStart
from shapecut.layout.seasoning import SPECIES, Grain
from shapecut.stock.blanks import BoardEdges
from shapecut.units import in_both_units, parse_length

__all__ = ["Boards", "Direction", "JointTable", "JoistTable", "SawTable", "SeasoningTable", "Start"]

_DIRECTION = re.compile(
    r"along\s+(?P<edge>\S.*)|(?P<angle>[-+]?\d{1,4}(\.\d{1,9})?)\s*(deg|degrees|°)"
)

ACROSS = "across boards"
"""How joists run when a job does not say."""


class Direction(BaseModel):
    """Where boards or joists run: along a named edge, at an angle, or where it turns out best."""

    model_config = ConfigDict(frozen=True)

    edge: str | None = None
    angle_rad: float | None = None

    @property
    def is_best(self) -> bool:
        """Whether the directions of all edges are to be compared."""
        return self.edge is None and self.angle_rad is None


def _direction(text: object) -> Direction:
    match = _DIRECTION.fullmatch(text.strip()) if isinstance(text, str) else None
    if not match:
        raise ValueError('write "along E3" or an angle such as "30 deg"')
    if match["edge"]:
        return Direction(edge=match["edge"])
    return Direction(angle_rad=math.radians(float(match["angle"])))


def _boards_direction(text: object) -> Direction:
    if text == "best":
        return Direction()
    try:
        return _direction(text)
    except ValueError as error:
        raise ValueError(f'{error}, or "best" to compare the edges') from None


def _joists_direction(text: object) -> Direction | None:
    return None if text == ACROSS else _direction(text)


class Start(BaseModel):
    """Where the rows start."""

    model_config = ConfigDict(frozen=True)

    rule: RowStart = RowStart.FULL_BOARD
    edge: str | None = None
    taped_mm: float | None = Field(
        None, description="from the edge to the near edge of an existing board's row"
    )


def _start(text: object) -> Start:
    if not isinstance(text, str) or not text.strip():
        raise ValueError('write an edge ("E2"), "37 mm from E2", "balanced" or "best"')
    text = text.strip()
    if text in (RowStart.BALANCED, RowStart.BEST):
        return Start(rule=RowStart(text))
    taped, found, edge = text.rpartition(" from ")
    if not found:
        return Start(edge=text)
    return Start(edge=edge.strip(), taped_mm=parse_length(taped))


class SeasoningTable(Table):
    """What moisture does to the boards' width; the gap is then what is wanted in service."""

    species: str = Field(description=f"one of {', '.join(SPECIES)}")
    grain: Grain = Field(Grain.FLAT, description="flat-sawn or quarter-sawn (vertical)")
    at_laying: float = Field(gt=0, le=100, description="moisture content on the day, %")
    in_service: float = Field(gt=0, le=100, description="moisture content later on, %")

    @model_validator(mode="after")
    def _known_species(self) -> Self:
        if self.species not in SPECIES:
            raise ValueError(
                f'"{self.species}" is not in the table; it has {", ".join(SPECIES)}; for another '
                f"wood state the gap at laying"
            )
        return self


class Boards(Table):
    """The boards and how they are laid."""

    size: str | None = Field(
        None, description='a nominal name instead of width and thickness: "2x6", "25x150 mm"'
    )
    width: PositiveLength = Field(description="actual width, not nominal")
    thickness: PositiveLength = length_field("28 mm", "actual thickness, not nominal")
    gap: Length = length_field("5 mm", "between neighbouring boards")
    seasoning: SeasoningTable | None = Field(
        None, description="to reckon the gap at laying from the gap wanted in service"
    )
    direction: Annotated[
        Direction,
        BeforeValidator(_boards_direction),
        WithJsonSchema({"type": "string", "description": '"along E3", "30 deg" or "best"'}),
    ] = Field(Direction(angle_rad=0.0), json_schema_extra={"default": "0 deg"})
    start: Annotated[
        Start,
        BeforeValidator(_start),
        WithJsonSchema(
            {"type": "string", "description": '"E2", "37 mm from E2", "balanced" or "best"'}
        ),
    ] = Field(
        Start(),
        description="the edge where the first full board lies, how far from it an existing deck's "
        'row begins, "balanced" or "best"; the lowest side if left out',
        json_schema_extra={"default": None},
    )
    smallest_rip: Length = length_field("40 mm", "a narrower row is reported")
    smallest_length: Length = length_field("150 mm", "a shorter piece is reported")
    edges: BoardEdges = Field(
        BoardEdges.EASED,
        description="their long edges: square (a sawn edge is as good), eased or grooved (the same "
        "on both sides, sawing takes it away), unlike (tongue and groove)",
    )
    two_good_faces: bool = Field(False, description="either face may lie up")

    @model_validator(mode="before")
    @classmethod
    def _measured_by_name(cls, values: Any) -> Any:
        """A nominal size stands for the width and the thickness that it really has."""
        if not isinstance(values, dict) or not isinstance(values.get("size"), str):
            return values
        stated = [key for key in ("width", "thickness") if key in values]
        if stated:
            raise ValueError(f"size and {stated[0]} both state the board; leave one of them out")
        width, thickness = actual_size_mm(values["size"])
        return {**values, "width": f"{width:g} mm", "thickness": f"{thickness:g} mm"}

    @model_validator(mode="after")
    def _goes_together(self) -> Self:
        if self.gap >= self.width:
            raise ValueError(
                f"gap {in_both_units(self.gap)} is not smaller than the board width "
                f"{in_both_units(self.width)}"
            )
        if "smallest_rip" in self.model_fields_set and self.smallest_rip > self.width:
            raise ValueError(
                f"smallest_rip {in_both_units(self.smallest_rip)} is more than the board width "
                f"{in_both_units(self.width)}"
            )
        if self.direction.is_best and self.start.edge:
            raise ValueError(
                f'direction "best" compares directions, and start {self.start.edge} settles it; '
                f'write direction = "along {self.start.edge}", or start = "best"'
            )
        return self


WIDEST_JOIST_MM = 300.0
"""Wider than the top of any joist or beam that boards lie on."""


SAME_PLACE_MM = 1e-6
"""Joists side by side touch to within this."""


class JoistTable(Table):
    """What the boards lie on."""

    direction: Annotated[
        Direction | None,
        BeforeValidator(_joists_direction),
        WithJsonSchema(
            {"type": "string", "description": '"across boards", "along E3" or "30 deg"'}
        ),
    ] = Field(None, json_schema_extra={"default": ACROSS})
    spacing: PositiveLength | None = Field(
        None, description="from centre to centre, at right angles to them"
    )
    first: Length = length_field("0 mm", "from measured_from to the centre of the first joist")
    measured_from: str | None = Field(
        None,
        description="the outline edge that first and lines are measured from; the origin if left "
        "out",
    )
    lines: tuple[Length, ...] = Field((), description="centres of listed joists, for spacing")
    marked: tuple[str, ...] = Field(
        (),
        description='lines drawn on the template along the middles of joists, such as "L1", for '
        "spacing, lines and direction",
    )
    width: PositiveLength = length_field("38 mm", "of each joist")
    longest_spacing: PositiveLength | None = Field(
        None, description="allowed for these boards; IRC Table R507.7 if left out"
    )
    material: Literal["wood", "composite"] = Field(
        "wood", description="of the boards; what composite may span is its maker's to say"
    )
    free_end: Length = length_field("50 mm", "a board may reach past its last joist")

    @model_validator(mode="after")
    def _spaced_or_listed(self) -> Self:
        keys = {"spacing": self.spacing is not None, "lines": self.lines, "marked": self.marked}
        given = [key for key, is_given in keys.items() if is_given]
        if not given:
            raise ValueError("needs either spacing, or lines or marked with at least one of them")
        if len(given) > 1:
            raise ValueError(
                f"{given[0]} and {given[1]} both say where the joists are; leave one of them out"
            )
        if self.marked and (self.direction or self.measured_from):
            raise ValueError(
                "marked lines are where they were drawn; leave direction and measured_from out"
            )
        if self.width > WIDEST_JOIST_MM:
            raise ValueError(
                f"width {in_both_units(self.width)} is more than "
                f"{in_both_units(WIDEST_JOIST_MM)}; state how wide the top of one joist is"
            )
        if self.spacing is not None and self.spacing <= self.width:
            raise ValueError(
                f"spacing {in_both_units(self.spacing)} is no more than their width "
                f"{in_both_units(self.width)}; state it from centre to centre"
            )
        for line, following in pairwise(sorted(self.lines)):
            if following - line < self.width - SAME_PLACE_MM:
                raise ValueError(
                    f"lines {in_both_units(line)} and {in_both_units(following)} are nearer to "
                    f"each other than the width of a joist, {in_both_units(self.width)}; state "
                    "the centre of each joist once"
                )
        return self


class HeatTable(Table):
    """What heat does to the boards' length; the end gap is then what stays open at the hottest."""

    per_kelvin: float = Field(gt=0, description="of its length, as the maker states: 4e-5")
    laid_at: float = Field(ge=-60, le=120, description="°C of the boards on the day")
    hottest: float = Field(ge=-60, le=120, description="°C the boards can reach")


PATTERNS = {"free": 1, "every second joist": 2, "every third joist": 3}
"""Of joints, by name: how many joists neighbouring rows take turns with."""


class JointTable(Table):
    """Rows longer than any board: butt joints over joists."""

    longest: PositiveLength | None = Field(
        None, description="longest piece; what the longest board gives if left out"
    )
    shortest: Length | None = Field(
        None, description="shortest piece of a joined row; boards.smallest_length if left out"
    )
    offset: Length = length_field("600 mm", "between joints of neighbouring rows, at least")
    pattern: Literal["free", "every second joist", "every third joist"] = Field(
        "free", description="which joists the rows take turns with"
    )
    gap: Length = length_field("0 mm", "between the ends of two pieces")
    heat: HeatTable | None = None


def _point_angle(angle_deg: float) -> float:
    if not 0 <= angle_deg < 90:
        raise ValueError("a point has 0 to 90 degrees")
    return angle_deg


class SawTable(Table):
    """What can be cut, and what lasts."""

    blade: Length | None = Field(None, description="of the openings' blade; the kerf if left out")
    relief_radius: Length = length_field(
        "0 mm", "that a cutter leaves at inside corners; nought for a saw and finishing by hand"
    )
    smallest_angle_deg: Annotated[float, AfterValidator(_point_angle)] = Field(
        20.0, description="sharper points break"
    )
    smallest_point: Length = length_field("8 mm", "where sharp points are narrower they break")
