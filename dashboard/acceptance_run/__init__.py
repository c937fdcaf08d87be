"""An acceptance while it runs: condition by condition, and its touch test."""
