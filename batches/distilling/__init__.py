"""Distillation periods: which runs and mashes belong to one, what stands in the way of its end, and what it yielded.

A period is a record that is opened and ended like any other, with a gauge of the feints at both. Everything else here
is worked out from the records and the books each time, and nothing of it is kept. A run belongs to the period of its
class of spirits in which it was charged, a mash to the period in which wash of it was charged (Spirits Regulations
1991, SI 1991/2564, regulations 10 and 11, as made; superseded, same practice).
"""
