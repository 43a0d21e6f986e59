"""Fits with errors in every variable, and what they leave uncertain: any model, no bench."""
