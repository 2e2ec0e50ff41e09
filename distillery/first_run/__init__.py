"""The first manager of a site on which nobody can sign on yet, made on a page at the server's own computer."""
