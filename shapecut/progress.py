"""Long work: telling whoever waits what is being done, and doing pictures side by side."""

import os
from collections.abc import Callable, Iterable
from concurrent.futures import ThreadPoolExecutor
from typing import TypeVar

__all__ = ["Report", "quiet", "side_by_side"]

Report = Callable[[str], None]
"""Called with a few words before each long step."""

Item = TypeVar("Item")
Result = TypeVar("Result")


def quiet(_: str) -> None:
    """Report nothing."""


def side_by_side(work: Callable[[Item], Result], items: Iterable[Item]) -> list[Result]:
    """Do the same to every item, as many at once as there are processors.

    For work that spends its time in libraries which let other threads run (decoding, OpenCV).

    Returns:
        The results in the items' order.

    Raises:
        Exception: The first item's that failed, in the items' order.
    """
    with ThreadPoolExecutor(max_workers=os.cpu_count() or 1) as threads:
        return list(threads.map(work, items))
