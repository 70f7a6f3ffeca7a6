"""Kennel rounds: the roster, the order of a round, contagion, doses, outbreaks, handover."""
