"""Printed documents, each put together from the parts of the room above."""
