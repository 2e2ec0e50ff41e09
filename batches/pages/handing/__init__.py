"""Notes of the shift and the handover sheet, on pages and on paper."""
