"""Reading the job file `job.toml`: everything a person decides.

Lengths are trade lengths with their unit (`units.py`); here they become millimetres.  Every mistake
is answered with its key, what was given and what is allowed.
"""

import difflib
import tomllib
from collections.abc import Iterator, Mapping
from decimal import Decimal
from pathlib import Path
from typing import Any, get_args

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from shapecut.errors import JobFileError
from shapecut.job.cards import Cards
from shapecut.job.job import Job

__all__ = ["JOB_FILE", "cards_from_values", "job_from_text", "read_job"]

JOB_FILE = "job.toml"


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
    except UnicodeEncodeError as error:  # from a call or a file name, never from a file's UTF-8
        broken = ascii(error.object)[:60]
        raise JobFileError(f"{name}: {broken} holds half a character: type it anew.") from None


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
