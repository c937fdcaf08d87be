"""Reading and writing files: bounded, named safely, written whole or not at all."""
