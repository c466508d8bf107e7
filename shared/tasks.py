"""Tasks every deployment runs."""
