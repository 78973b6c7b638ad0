"""Fuzz one reader guided by what of our code each file reaches, with atheris.

    pip install atheris         # not among the project's own dependencies
    python -m tests.fuzzing.guided svg CORPUS -max_total_time=120

CORPUS is a folder that gathers files which reach something new; valid ones are put there first.
Further options are libFuzzer's.  The first fault ends the run, its file beside where it was begun.
"""

import sys
from contextlib import suppress
from pathlib import Path

import atheris

with atheris.instrument_imports(include=["shapecut"]):  # takes a minute
    from shapecut.errors import ShapecutError
    from tests.fuzzing.readers import READERS


def main() -> None:
    """Fuzz until told to end."""
    name, corpus, *options = sys.argv[1:]
    reader = READERS[name]
    Path(corpus).mkdir(exist_ok=True)
    for number, data in enumerate(reader.seeds()):
        (Path(corpus) / f"valid-{number}").write_bytes(data)

    def read(data: bytes) -> None:
        with suppress(ShapecutError):
            reader.read(data)

    limits = ["-timeout=60", "-rss_limit_mb=2500", "-max_len=20000"]
    atheris.Setup([sys.argv[0], corpus, *limits, *options], read)
    atheris.Fuzz()


if __name__ == "__main__":
    main()
