"""The driver: joins microphone, hearing, machine, records and voice; sole owner of threads."""
