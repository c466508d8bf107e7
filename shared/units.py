"""Units (placeholder until written)."""
