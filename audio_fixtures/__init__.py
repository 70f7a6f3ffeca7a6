"""Short clips of computed sound, their manifest, and the script that makes both."""
