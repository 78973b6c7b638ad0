"""Where the bundled example lies: beside the package in a checkout, inside it once installed."""

from pathlib import Path

__all__ = ["demo_job"]

DEMO = "boathouse_step"


def demo_job() -> Path:
    """The folder of the example that `shapecut demo` runs."""
    package = Path(__file__).parent
    installed = package / "example_jobs" / DEMO
    return installed if installed.is_dir() else package.parent / "examples" / DEMO
