"""Findings, the rule table, levels, the dog's own past, the care calendar."""
