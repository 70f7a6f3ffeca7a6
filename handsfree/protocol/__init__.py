"""The check as data, and its loader: regions, steps, questions, routines, cautions, sources."""
