"""Numbers, lists and answers as text, which tables, plots and pages share."""
