"""The stages as functions: from photographs to an outline, and from an outline to boards."""
