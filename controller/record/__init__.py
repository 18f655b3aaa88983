"""What is kept: the tables, the journal that writes, the queries that read."""
