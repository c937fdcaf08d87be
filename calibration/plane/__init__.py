"""The reference plane: cables, adapters and fixtures that are de-embedded."""
