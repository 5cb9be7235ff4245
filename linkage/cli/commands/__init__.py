"""One command a file; a new file here is a new command."""
