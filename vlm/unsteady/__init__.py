"""Unsteady air: a lattice that sheds a vortex ring at each step, and a lag law fitted to it."""
