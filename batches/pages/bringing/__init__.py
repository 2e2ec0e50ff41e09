"""Pages on which a manager brings a site in from a workbook: chosen, looked at, brought in."""
