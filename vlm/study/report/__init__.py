"""What a report is made of."""
