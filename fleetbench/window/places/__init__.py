"""What a centre states of itself: its lists, their forms, and the first page of an empty database."""
