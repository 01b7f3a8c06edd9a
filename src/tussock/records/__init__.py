"""The logbook: what happened, as recorded; tables in and out, the return, Darwin Core."""
