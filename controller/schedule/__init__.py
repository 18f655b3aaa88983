"""What is asked: the schedule file, its units, its checks and the built-in library."""
