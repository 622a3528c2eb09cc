"""Craft and settings side by side."""
