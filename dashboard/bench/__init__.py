"""The bench: follows the stream, and does what a person may do."""
