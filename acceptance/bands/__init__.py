"""Cellular bands, channels, regions and services."""
