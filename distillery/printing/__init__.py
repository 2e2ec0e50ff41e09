"""Printed records: what the books of the site look like on paper, and nothing of what they say.

Whoever keeps a record hands over frozen values; `month_account`, `record_sheet` and `blank_sheet` set them out, and
`document` makes a PDF of them. No account, person or vessel of the database is known here.
"""
