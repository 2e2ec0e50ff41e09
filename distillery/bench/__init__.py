"""The bench: the sums that staff do at a sample jar or a vat, with how sure each result is. Nothing is kept.

Every figure comes from `distillery.alcoholometry`; the rooms here ask for what is needed, say where a question
leaves a formula's range, and set the result out on a page, on a slip or in a table to pin up.
"""
