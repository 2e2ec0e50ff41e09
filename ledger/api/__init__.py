"""The books as other programs of the site read them: JSON under /api/, with a token for each, and nothing to write.

`answers` says what is read, in plain data with the figures of the pages; `described` gives each address its form and
makes the OpenAPI document; `served` stands before them: tokens, waiting, refusals. The library that describes them is
read when an address of this room is first asked for, and never by a command.
"""
