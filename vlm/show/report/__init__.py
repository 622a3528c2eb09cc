"""The report: one page from what was gathered; each section a file, each appears with its data."""
