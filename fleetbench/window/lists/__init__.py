"""Lists of records: model, page, buttons."""
