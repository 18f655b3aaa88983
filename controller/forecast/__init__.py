"""What will happen: the job sheet, the live estimate of the shell, and the schedule run ahead."""
