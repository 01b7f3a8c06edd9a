"""The permit file, its versions and clauses, the consent register and the house rules."""
