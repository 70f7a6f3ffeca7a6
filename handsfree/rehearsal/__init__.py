"""A simulated examiner and scenarios: real audio, no microphone."""
