"""The page Film: from a film of the screen to one with all that is computed and read laid over."""
