"""One file for each command of the command line."""
