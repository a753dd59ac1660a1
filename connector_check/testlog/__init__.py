"""What the meter said: readings, the meter, the job file."""
