"""Checks of the pages in a real browser: python -m tests.browser."""
