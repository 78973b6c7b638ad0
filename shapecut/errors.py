"""One family of errors.

Every error carries one sentence for the person at the bench: what is wrong, in which file, edge or
board, and what to do about it.  The command line prints that sentence with the error's code, under
which `docs/troubleshooting.md` says more, and exits with `exit_code`; a library user catches
`ShapecutError`, or the leaf, or the built-in kind the leaf derives from.
"""

from typing import ClassVar

__all__ = [
    "CaptureError",
    "JobFileError",
    "LayoutError",
    "OutputError",
    "ShapeError",
    "ShapecutError",
    "StockError",
    "SurveyError",
    "TraceError",
    "UnitError",
    "UsageError",
]


class ShapecutError(Exception):
    """Base of all errors that shapecut raises on purpose; exits with 1."""

    code: ClassVar[str] = "shapecut"
    exit_code: ClassVar[int] = 1


class UsageError(ShapecutError):
    """The command was given something it cannot take (a missing folder, an output that exists)."""

    code = "usage"
    exit_code = 2


class UnitError(ShapecutError, ValueError):
    """A length that cannot be read."""

    code = "length"


class JobFileError(ShapecutError, ValueError):
    """A job file that cannot be read or states something impossible."""

    code = "job"


class CaptureError(ShapecutError, ValueError):
    """A picture that cannot be read, or marks on it that cannot be used."""

    code = "picture"


class SurveyError(ShapecutError, ValueError):
    """Photographs and cards from which no plane can be measured."""

    code = "cards"


class TraceError(ShapecutError, ValueError):
    """A template that cannot be found or followed in the photographs."""

    code = "template"


class ShapeError(ShapecutError, ValueError):
    """An outline that is not a shape: open, crossing itself, eaten up by its allowances."""

    code = "outline"


class LayoutError(ShapecutError, ValueError):
    """Boards that cannot be laid in this outline by these rules."""

    code = "boards"


class StockError(ShapecutError, ValueError):
    """Pieces that cannot be cut from the stock on offer."""

    code = "stock"


class OutputError(ShapecutError, OSError):
    """Results that cannot be written."""

    code = "writing"
