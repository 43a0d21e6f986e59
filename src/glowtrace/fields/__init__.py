"""Electric and magnetic fields: electrodes, coils, the Earth, and maps of them; arrays and SI floats only."""
