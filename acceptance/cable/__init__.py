"""What a cable does to a verdict, and what is wrong along it."""
