"""Flight logs: read, cut into steady segments, binned, compared, fitted."""
