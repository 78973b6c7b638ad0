"""Write the schemas anew."""

from pathlib import Path

from shapecut.schemas import write_schemas

write_schemas(Path(__file__).parent)
