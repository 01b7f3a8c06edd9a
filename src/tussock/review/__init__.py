"""What was done, held against the clauses in force on its day."""
