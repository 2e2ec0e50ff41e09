"""One seal over everything that is written down, made with each piece of writing, so that it can be noted elsewhere.

A chain proves its order and not that nobody wrote the whole of it again. A seal of the books covers the last movement's
seal and the whole trail up to then, so one seal noted outside the database (on paper, in a file elsewhere) shows
whether all that came before it is still what it was.
"""
