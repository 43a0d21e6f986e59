"""Clips: moving pictures of a bench with words for what is to be seen."""
