"""What leaves the records in open formats: CSV, JSON Lines, FHIR R4B, iCalendar; and comes back."""
