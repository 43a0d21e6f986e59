"""Annotated films: what was computed and what was read laid over every frame."""
