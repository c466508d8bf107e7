"""News from the rooms on the left: facts moved, so ratings must follow."""
