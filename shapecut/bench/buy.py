"""The step of buying: what the yard sells, and which boards of it to buy."""

import re
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import tomlkit
from tomlkit.items import AoT

from shapecut.bench.desk import Call, Desk, Values
from shapecut.bench.inputs import inputs_digest
from shapecut.bench.long_step import LongStep
from shapecut.drawings.drawn_outline import GivenOutline
from shapecut.errors import UsageError
from shapecut.job.job import Job
from shapecut.progress import Report

__all__ = ["BuyStep", "with_sold"]

PRICE = re.compile(r"(0|[1-9]\d{0,8})(\.\d{1,6})?", re.ASCII)
"""A number as TOML writes it."""

MOST_LENGTHS = 50
"""That a yard sells."""


class BuyStep:
    """What to buy."""

    name = "buy"

    def __init__(self, desk: Desk) -> None:
        """Buy for the job on a desk; nothing is worked out yet."""
        self._desk = desk
        self._plan = LongStep(desk.folder, _plan, self._given)
        self.long_steps: Mapping[str, LongStep] = {"plan": self._plan}
        self.calls: Mapping[str, Call] = {"sold": self._sold}

    def shown(self, job: Job) -> Values:
        """What the yard sells, what to buy, and whether that is still of the job as it is."""
        sold = _sold_values(self._desk.store.text)
        values: Values = {"sold": sold, "currency": job.stock.currency}
        result = self._plan.progress.result
        if result is None:
            return values
        digest, bought = result
        return values | {"plan": bought, "current": digest == inputs_digest(self._desk.folder, job)}

    def _given(self) -> tuple[Job, GivenOutline, str]:
        """What a plan is made from.

        Raises:
            ShapecutError: If there is no outline yet.
        """
        job = self._desk.store.job
        return job, self._desk.tracing.outline(job), inputs_digest(self._desk.folder, job)

    def _sold(self, values: Values) -> None:
        """Write down one of the lengths that the yard sells, or that it no longer sells it."""
        number, length, price = (values.get(key) for key in ("number", "length", "price"))
        if not isinstance(number, int) or not 0 <= number < MOST_LENGTHS:
            raise UsageError(f"A yard sells at most {MOST_LENGTHS} lengths.")
        if not isinstance(length, str | None) or not isinstance(price, str | None):
            raise UsageError("A length and its price are texts.")
        self._desk.store.rewrite(lambda text: with_sold(text, number, length, price))


def _plan(
    folder: Path, report: Report, job: Job, given: GivenOutline, digest: str
) -> tuple[str, Values]:
    """In a process of its own."""
    from shapecut.bench.buying import buying_values
    from shapecut.job_stages import job_made

    return digest, buying_values(job_made(folder, job, given, report=report))


def _sold_values(text: str) -> list[Values]:
    """The lengths that the yard sells, as they stand in the file."""
    lengths: Any = tomlkit.parse(text).get("stock", {}).get("lengths", [])
    return [
        {
            "length": str(one.get("length", "")),
            "price": one["price"].as_string() if "price" in one else "",
        }
        for one in lengths
    ]


def with_sold(text: str, number: int, length: str | None, price: str | None) -> str:
    """A job file with one of the lengths that the yard sells changed, or added behind the last.

    Args:
        text: The job file.
        number: Of the length, counted from 0.
        length: As the yard calls it; None takes it out.
        price: For one board, with a decimal point; None where it is not stated.

    Raises:
        UsageError: If the price is no number, or there is no such length.
    """
    if price and not PRICE.fullmatch(price):
        raise UsageError(f'"{price}" is no price: write it with a point, such as 15.60.')
    document: Any = tomlkit.parse(text)
    lengths = document["stock"]["lengths"]
    if number > len(lengths) or (length is None and number == len(lengths)):
        raise UsageError("That length is not sold any more.")
    if length is None:
        del lengths[number]
        return tomlkit.dumps(document)
    if number == len(lengths):
        lengths.append(tomlkit.table() if isinstance(lengths, AoT) else tomlkit.inline_table())
    entry = lengths[number]
    entry["length"] = length
    if price:
        entry["price"] = tomlkit.value(price)
    elif "price" in entry:
        del entry["price"]
    return tomlkit.dumps(document)
