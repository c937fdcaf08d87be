"""Recordings of a port, and playing them back."""
