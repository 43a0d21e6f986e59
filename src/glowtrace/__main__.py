"""``python -m glowtrace`` is the command ``glowtrace``."""

from glowtrace.cli import main

main()
