"""The page that finds faults: what is seen, what it may be, what to check next."""
