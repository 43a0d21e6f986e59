"""The page on which a bench is described: its numbers, its drawing, its versions."""
