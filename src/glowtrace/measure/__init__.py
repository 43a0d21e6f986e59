"""Measuring: from readings on the bench to e/m, with an uncertainty that can be defended."""
