"""Hinge and drive."""
