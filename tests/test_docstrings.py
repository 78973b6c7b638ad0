"""The examples in docstrings give what they say."""

import doctest
import importlib
from pathlib import Path

import pytest

import shapecut

ROOT = Path(shapecut.__file__).parent
MODULES = [
    ".".join(path.relative_to(ROOT.parent).with_suffix("").parts)
    for path in sorted(ROOT.rglob("*.py"))
    if ">>>" in path.read_text(encoding="utf-8")
]


@pytest.mark.parametrize("name", MODULES)
def test_examples_hold(name: str) -> None:
    results = doctest.testmod(importlib.import_module(name))
    assert results.attempted
    assert not results.failed
