"""What a centre states of itself: entered, corrected with a reason, and begun from nothing."""
