"""Rotors, motors and battery, and the wind that rotors blow over the wings."""
