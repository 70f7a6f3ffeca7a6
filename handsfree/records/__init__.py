"""SQLite schema and migrations, people, dogs, exams."""
