"""Loads, drag, stability and power of biplanes with folding wing tips, by a vortex lattice.

Importing the package loads nothing but itself; import the rooms you need, for example
``from vlm.description import load_biplane``.
"""

__version__ = "0.1.0"
