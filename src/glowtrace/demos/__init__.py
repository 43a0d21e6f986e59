"""What each demonstration shows: its closed forms and the trace that a textbook gives for it."""
