"""What was typed on a sheet, read: figures and names, gauges worked out, all of it ready to be posted."""
