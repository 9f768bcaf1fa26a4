"""What a message says, to whom, when it may go and how it leaves. Rows are written by emails."""
