"""Every code that a refusal ends with has its part in docs/troubleshooting.md."""

import re
from pathlib import Path

import pytest
from click.testing import CliRunner

from shapecut import errors
from shapecut.cli import main

PAGE = (Path(__file__).parents[1] / "docs" / "troubleshooting.md").read_text(encoding="utf-8")
LEAVES = [getattr(errors, name) for name in errors.__all__ if name != errors.ShapecutError.__name__]


@pytest.mark.parametrize("error", LEAVES)
def test_has_a_part_of_its_own(error):
    assert re.search(rf"^## {re.escape(error.code)}$\n\n\S", PAGE, re.MULTILINE)


def test_codes_are_unlike():
    assert len({error.code for error in LEAVES}) == len(LEAVES)


def test_a_refusal_ends_with_its_code(tmp_path):
    result = CliRunner().invoke(main, ["plan", str(tmp_path)])
    assert result.exit_code == 1
    assert result.output.rstrip().endswith("[job]")
