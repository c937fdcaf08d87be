"""What a person may do on the page: one table of it, and one way to do it."""
