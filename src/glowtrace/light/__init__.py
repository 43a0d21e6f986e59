"""Can the trace be seen? Its luminance, the light of the room, and what eye and camera need.

An order-of-magnitude model: every input has a factor within which it is believed, and every
answer says within what factor it stands.
"""
