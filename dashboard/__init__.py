"""What a person sees: the page and the command line."""
