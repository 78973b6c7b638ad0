"""Fit straight boards into an awkward place: photographs of a template in, boards to cut out."""

__version__ = "0.1.0"
