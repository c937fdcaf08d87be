"""What an antenna must meet: plans and recipes, as values and as files."""
