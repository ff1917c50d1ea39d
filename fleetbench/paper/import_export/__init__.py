"""What an import leaves to finish, on paper."""
