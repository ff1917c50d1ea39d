"""What is kept: tables, sessions, the journal and its chain. The only floor that knows SQL."""
