"""The audience's window: the picture and the knobs' values for the room, steered from the desk."""
