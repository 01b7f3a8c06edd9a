"""Tussock: release sites, records and audits for licensed snake relocators."""

__version__ = "0.1.0"
