"""What learners' phones reach: a server of its own, on which nothing of the desk exists."""
