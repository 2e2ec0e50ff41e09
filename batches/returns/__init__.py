"""What the returns of a month and a quarter are prepared from: duty by tax type, what is put right of earlier months,
spoilt goods and drawback, what moved in suspension, the stock of the warehouse, spirits made and cereals used.

It prepares figures and files nothing. Everything is read from the books and the records and worked out each time.
Sources are named where each figure is made; the law and the officer decide.
"""
