"""How what is seen changes with a knob or a number of the bench, beside the knobs."""
