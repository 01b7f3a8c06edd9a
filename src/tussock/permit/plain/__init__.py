"""A permit in plain words, and what its text and its limits say differently. Prints nothing."""
