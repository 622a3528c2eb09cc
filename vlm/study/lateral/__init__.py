"""Lateral stability and the modes of motion."""
