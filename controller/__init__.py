"""Stokehold's controller: everything but the screens."""
