"""Limits: the metrics of a match, and the rule that decides against one."""
