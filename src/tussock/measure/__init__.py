"""Measures as intervals, screened and exact, and clauses judged by them."""
