"""The parts of the bench, each with its own state and rule for the lock."""
