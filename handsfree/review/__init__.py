"""Spoken review, the page, charts, exports."""
