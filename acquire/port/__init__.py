"""Serial ports: which there are, how bytes move, what goes wrong, how long to wait."""
