"""What lies on the simulated bench: an antenna to bend, standards, pigtails."""
