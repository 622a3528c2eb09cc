"""Motions in time."""
