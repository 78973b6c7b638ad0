"""Telling whoever waits what is being done."""

from collections.abc import Callable

__all__ = ["Report", "quiet"]

Report = Callable[[str], None]
"""Called with a few words before each long step."""


def quiet(_: str) -> None:
    """Report nothing."""
