"""Photographs of a screen: the printed grid, the glowing line, and how well each is known."""
