"""Roll by folding."""
