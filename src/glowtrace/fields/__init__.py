"""Electric and magnetic fields: electrodes, coils, the Earth, and maps (arrays and SI floats)."""
