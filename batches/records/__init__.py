"""The one way a record is opened, added to, completed, corrected, signed and struck."""
