"""How things look: theme, marks, buttons, words for empty places."""
