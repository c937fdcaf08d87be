"""The chain of a bench's records: each names the sum of the one before."""
