"""Run sheets: one demonstration on paper, from the wiring to the discharge."""
