"""Glowtrace: electron-beam demonstrations, computed from the real geometry of your bench."""
