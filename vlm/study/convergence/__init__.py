"""How numbers change with the lattice."""
