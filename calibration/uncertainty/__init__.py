"""The uncertainty budget: causes, how they add up, the interval they leave, their ranking."""
