"""What a message says, to whom, when it may go, how it leaves. Its kinds stand in `about`."""
