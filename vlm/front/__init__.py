"""The front door: a craft opened by name, file or tables, and its answers.

Angles are in degrees, lengths and speeds in SI units, as on the command line; each method answers
what the command of its name does, with the same defaults. Wrong input raises
:class:`vlm.errors.InputRefused`. No number is computed here.
"""
