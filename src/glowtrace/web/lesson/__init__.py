"""The desk's page for a lesson, and the lesson that is being held."""
