"""Reflection becomes a decision that someone else can check."""
