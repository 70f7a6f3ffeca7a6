"""The exam machine: events in, actions out; imports no audio, clock, file, database or engine."""
