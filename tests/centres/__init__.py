"""Small invented centres and steps that several tests begin with."""
