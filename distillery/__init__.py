"""The site everything stands on: measurement, plant, people, dated rules, charts and printing."""
