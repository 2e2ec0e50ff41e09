"""The equations of a month: what each measurement must agree with, and how sure it is."""
