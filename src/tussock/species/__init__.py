"""Species profiles, a source for every number, and the gate at intake."""
