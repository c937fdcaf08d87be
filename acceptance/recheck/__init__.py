"""What a record is held against beside itself: the plan that was ordered, and its own report."""
