"""The record as HTML on the phone: `fieldwork` and Django's template engine, nothing else."""
