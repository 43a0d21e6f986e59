"""Tables of readings: as people write them, with what each reading is worth."""
