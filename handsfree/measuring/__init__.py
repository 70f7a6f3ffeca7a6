"""Spoken stopwatch, counted rates, amounts, repeats and spread."""
