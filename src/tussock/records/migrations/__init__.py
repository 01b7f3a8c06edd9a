"""Upgrades of the logbook's schema, run when one is opened. A revision once released is never edited."""
