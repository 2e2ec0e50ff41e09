"""Proving who one is: a password, a PIN, a key that is touched, a dated pass; each try counted and waited for."""
