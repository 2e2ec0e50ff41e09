"""Records that are on, between their first moment and their last: their state, what is due, what has run off.

All of it is worked out from what the record says and from the last runs like it; nothing is kept. What a sheet says of
running (`batches.sheets.declared.Running`) is all that is known of a step here.
"""
