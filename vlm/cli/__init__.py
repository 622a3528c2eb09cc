"""The command line: each file parses one command, calls the rooms above and writes."""
