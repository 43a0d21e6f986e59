"""Filming a demonstration: what a lens takes in, from where, and in which order leads change."""
