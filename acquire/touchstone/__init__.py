"""Touchstone files: read strictly, line by line, and converted to a reflection."""
