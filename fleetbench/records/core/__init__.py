"""The database, its transactions and journal: what every room of records stands on."""
