"""The command line: one program, its options, how it ends."""
