"""The commands, one module each: thin over the packages, with heavy imports where they are used."""
