"""What a file describes, before anything is solved."""
