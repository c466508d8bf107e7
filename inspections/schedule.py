"""Intervals (placeholder until written)."""
