"""Stokehold's screens: another process than the one that holds the heat."""
