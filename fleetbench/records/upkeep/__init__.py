"""What looks across all tables: migrations, backup, verify, finding."""
