"""Readings become reflection at the connector, and how far to trust it."""
