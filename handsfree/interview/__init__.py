"""Short talks beside the exam: the first run, practice, and measurements taken in other ways."""
