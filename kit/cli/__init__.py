"""The command line: parsing and exit codes only."""
