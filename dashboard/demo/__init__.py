"""The demo: its scenario, its example batch, the tour."""
