"""What a person may say of two edges: square, parallel, equally long, as written in a job."""

import re
from dataclasses import dataclass
from enum import StrEnum

__all__ = ["Regularity", "Relation", "regularity_from_text"]


class Relation(StrEnum):
    """How two edges lie to each other, in the words of the job file."""

    SQUARE = "square to"
    PARALLEL = "parallel to"
    IN_LINE = "in line with"
    LENGTH = "as long as"
    RADIUS = "same radius as"
    CENTRE = "same centre as"


@dataclass(frozen=True)
class Regularity:
    """One thing said of two edges, by their names."""

    first: str
    relation: Relation
    second: str

    def __str__(self) -> str:
        """As a job states it."""
        return f"{self.first} {self.relation.value} {self.second}"


_PATTERN = re.compile(rf"(\S+)\s+({'|'.join(Relation)})\s+(\S+)")


def regularity_from_text(text: object) -> Regularity:
    """Read a regularity such as `E2 square to E3`.

    Raises:
        ValueError: If it is none.
    """
    match = _PATTERN.fullmatch(" ".join(text.split())) if isinstance(text, str) else None
    if not match:
        words = ", ".join(f'"{relation.value}"' for relation in Relation)
        raise ValueError(
            f'write such as "E2 square to E3"; between two edges stands one of {words}'
        )
    first, relation, second = match.groups()
    if first == second:
        raise ValueError(f"it names {first} twice; name two edges")
    return Regularity(first, Relation(relation), second)
