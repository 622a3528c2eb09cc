"""The fold at each airspeed."""
