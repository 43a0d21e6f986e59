"""Plan a demonstration: settings for a goal with their tolerances, and maps of what happens."""
