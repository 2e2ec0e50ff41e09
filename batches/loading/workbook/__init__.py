"""A workbook that brings a site in: its plant, its casks, what it holds when the books are opened.

`sheets` says which sheets there are and what stands in them, `template` makes an empty one, `opening` and `cells` read
one that was filled in without trusting it, `source` hands its rows to the loader of a month's tables, and `bringing`
tries or writes them, all or nothing.
"""
