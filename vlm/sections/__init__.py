"""Section polars, and the coupling of a lattice's strips to them."""
