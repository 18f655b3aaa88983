"""Schedules on the page: the library, each drawn, edited as a table or as text, saved as a file."""
