"""What a program that uses shapecut relies on: the README's lines, and the published schemas."""

import json
import math
import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent


def test_the_lines_of_python_in_the_readme_run(monkeypatch, capsys):
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    (block,) = re.findall(r"```python\n(.*?)```", readme, re.DOTALL)
    monkeypatch.chdir(ROOT)
    exec(compile(block, "README.md", "exec"), {})
    assert re.fullmatch(r"\d+ pieces from \d+ boards\n", capsys.readouterr().out)


def test_the_outline_typed_in_the_readme_is_one():
    from shapecut.shape.outline_file import outline_from_text

    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    (block,) = re.findall(r"```json\n(.*?)```", readme, re.DOTALL)
    outline = outline_from_text(block, "README.md")
    # 1200 x 600 less a quarter of a circle of 300 at the corner and a round post of 50.
    quarter, post = math.pi * 300**2 / 4, math.pi * 50**2
    assert outline.area == pytest.approx(1200 * 600 - quarter - post, rel=1e-9)


def test_published_schemas_are_those_of_the_models():
    from shapecut.schemas import SCHEMAS, schema_text

    for name in SCHEMAS:
        published = (ROOT / "shapecut" / "schemas" / name).read_text(encoding="utf-8")
        assert json.loads(published) == json.loads(schema_text(name)), (
            f"{name} is out of date: python -m shapecut.schemas"
        )
