"""The search of a design."""
