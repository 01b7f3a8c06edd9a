"""One module a revision of the schema."""
