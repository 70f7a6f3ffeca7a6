"""Sharing between stations through PostgreSQL: facts go out and come in, none is changed."""
