"""What happened: the household's own record in one SQLite file, the only thing that changes."""
