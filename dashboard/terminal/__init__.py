"""What the terminal shows: tables, charts, guided steps."""
