"""Worksheets: questions with the bench's own numbers, and a worked key."""
