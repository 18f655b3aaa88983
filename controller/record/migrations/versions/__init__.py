"""One file for each change of the tables, in the order of their numbers. A file here is never edited."""
