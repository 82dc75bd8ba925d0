"""What happened: the household's own record in one SQLite file, the only thing that changes.

Value types: records.py, one frozen class for each table.  Main functions: `open_notebook` (store.py), `Notebook.transaction`, `add`, `update`,
`remove`, `get`, `find`; `undo` and `redo` (journal.py); `back_up`, `restore` (backup.py); `export_archive`, `import_archive` (archive.py).
The store never commits by itself: a service opens the transaction, and what it wrote is kept when the block has ended, all of it or nothing.
"""
