"""The clock of the books: real time at a site, a whole number of days away from it in books kept for practice.

What happened, ages, due times and 'later than now' go by it (`reading.books_now`). Written times, sign-ons, waits,
copies and seals keep real time, which is `django.utils.timezone.now`.
"""
