"""Solvers of classic theory that share no code with the package: what its numbers are held to."""
