"""One family of errors.

Every error carries one sentence for the person at the bench: what is wrong, in which file, edge or
board, and what to do about it.  The command line prints that sentence and exits with `exit_code`;
a library user catches `ShapecutError`, or the leaf, or the built-in kind the leaf derives from.
"""

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

    exit_code = 1


class UsageError(ShapecutError):
    """The command was given something it cannot take (a missing folder, an output that exists)."""

    exit_code = 2


class UnitError(ShapecutError, ValueError):
    """A length that cannot be read."""


class JobFileError(ShapecutError, ValueError):
    """A job file that cannot be read or states something impossible."""


class CaptureError(ShapecutError, ValueError):
    """A picture that cannot be read, or marks on it that cannot be used."""


class SurveyError(ShapecutError, ValueError):
    """Photographs and cards from which no plane can be measured."""


class TraceError(ShapecutError, ValueError):
    """A template that cannot be found or followed in the photographs."""


class ShapeError(ShapecutError, ValueError):
    """An outline that is not a shape: open, crossing itself, eaten up by its allowances."""


class LayoutError(ShapecutError, ValueError):
    """Boards that cannot be laid in this outline by these rules."""


class StockError(ShapecutError, ValueError):
    """Pieces that cannot be cut from the stock on offer."""


class OutputError(ShapecutError, OSError):
    """Results that cannot be written."""
