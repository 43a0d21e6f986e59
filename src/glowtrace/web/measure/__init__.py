"""From readings and photographs to a result, and the logbook that keeps them."""
