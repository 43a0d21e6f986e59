"""The bench: a frozen description of the apparatus, its settings, files and ratings."""
