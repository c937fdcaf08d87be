"""What a batch of one recipe shows: yield, control charts, the effect of a size."""
