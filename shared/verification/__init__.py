"""Check values: published numbers that the formulas must reproduce, and the rule by which they do (pure)."""
