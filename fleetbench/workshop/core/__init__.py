"""What every room of this floor uses: the workplace, drafts, finding."""
