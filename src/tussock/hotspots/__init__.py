"""Hotspots: where, when and for which species calls cluster, and what the data cannot say."""
