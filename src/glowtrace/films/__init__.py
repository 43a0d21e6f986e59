"""One screen followed through the frames of a film or a live camera, and its line read."""
