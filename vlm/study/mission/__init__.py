"""The energy of a mission."""
