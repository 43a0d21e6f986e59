"""The version of the program: this line alone decides it."""

__version__ = "0.2.0"
