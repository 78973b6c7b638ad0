"""Whatever goes wrong in a command, told in a sentence with an exit code; no traceback."""

import os
from typing import Any

import click

from shapecut.errors import ShapecutError

__all__ = ["Commands", "Fault"]

TRACEBACK_VARIABLE = "SHAPECUT_TRACEBACK"
"""Set to anything, an unforeseen fault shows its traceback instead of one sentence."""

LIBRARY_MISSING = (
    "a library that shapecut needs cannot be loaded ({}).  Where there is no display, OpenCV may "
    "lack parts of the system: on Debian and Ubuntu, `apt install libgl1 libglib2.0-0` brings "
    "them, or `pip uninstall opencv-python` and `pip install opencv-python-headless` do without.  "
    "If another library is named, install shapecut anew."
)
"""From memory: what OpenCV's wheel takes from the system to open windows."""


class Fault(click.ClickException):
    """One sentence on standard error, and an exit code."""

    def __init__(self, message: str, exit_code: int) -> None:
        super().__init__(message)
        self.exit_code = exit_code  # type: ignore[misc]  # click keeps it on the instance too

    def show(self, file: Any = None) -> None:
        """Print the sentence under the program's name."""
        click.echo(f"shapecut: {self.message}", err=True, file=file)


class Commands(click.Group):
    """A group that answers every error with a sentence; no traceback reaches a user."""

    def invoke(self, ctx: click.Context) -> Any:
        """Run a command; turn errors into sentences and exit codes."""
        try:
            return super().invoke(ctx)
        except ShapecutError as error:
            raise Fault(f"{error} [{error.code}]", error.exit_code) from None
        except (click.ClickException, click.exceptions.Exit, click.Abort, BrokenPipeError):
            raise
        except Exception as error:
            if os.environ.get(TRACEBACK_VARIABLE):
                raise
            if isinstance(error, ImportError):
                raise Fault(LIBRARY_MISSING.format(error), exit_code=1) from None
            raise Fault(
                f"something went wrong that should not: {type(error).__name__}: {error}. "
                f"Please report it, with what {TRACEBACK_VARIABLE}=1 shows when you run it again.",
                exit_code=1,
            ) from None
