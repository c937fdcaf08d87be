"""The record of an accepted antenna: what was done, what follows from it, its recheck."""
