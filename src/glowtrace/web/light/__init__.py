"""Can the trace be seen: the page for the light of the room, the audience and the camera."""
