"""Greenkeeper keeps every plant in a small greenhouse between its limits.

What lives where is drawn in DEVELOPERS.md. Importing this package, or any module
of it, has no effect.
"""

__version__ = "0.1.0"
