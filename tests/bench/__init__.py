"""The budgets of this project, measured on this machine: `make bench`. Prints, asserts nothing."""
