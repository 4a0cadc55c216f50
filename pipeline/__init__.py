"""The stages, in order: see flows.py."""
