"""A whole record held against itself, its stored report, and the plan that was ordered."""
