"""Electrons from the gun through the fields to where they end: compiled, relativistic."""
