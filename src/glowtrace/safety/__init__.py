"""What could hurt on a bench: limits, energies, temperatures, stray field, order of switching."""
