"""Which faults are planted: a file for each part, FAULTS in it."""
