"""The officer's bundle: the records of some months in one document with its contents, and the files that prove it."""
