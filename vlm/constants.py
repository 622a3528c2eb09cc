"""Physical constants and array types, each in this one place."""

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
"""An array of floating-point numbers."""

GRAVITY = 9.80665
"""Standard acceleration of gravity [m/s^2] (3rd CGPM, 1901)."""
SEA_LEVEL_DENSITY = 1.225
"""Density of the standard atmosphere at sea level [kg/m^3] (U.S. Standard Atmosphere 1976)."""
DEFAULT_AIRSPEED = 12.0
"""Airspeed where neither the user nor the craft's file says one [m/s]."""
