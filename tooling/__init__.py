"""What `tasks.py` does, with nothing but Python: set-up, checks, documents, lock files."""
