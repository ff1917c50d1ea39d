"""What every room of this floor uses: verdicts, refusals, wall time."""
