"""Power against airspeed."""
