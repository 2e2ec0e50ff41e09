"""Dated site data with its source: duty rates, review thresholds, gravity factors, cask bands, loss causes."""
