"""Exit statuses of a command line that decided nothing.

0 and 1 are a verdict's: every band passes, or some band does not.
"""

NOT_DONE = 2
"""It could not be done; one sentence on standard error says why."""
STOPPED = 130
"""A person stopped it by Ctrl-C, as a shell tells it."""
