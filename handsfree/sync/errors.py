"""What can go wrong with a server, in words. psycopg's errors are known here and nowhere else."""

from __future__ import annotations

from handsfree.errors import HandsfreeError

__all__ = ["ServerError", "in_words"]

KEPT = "Nothing was lost: this station keeps all of it and goes on offline."


class ServerError(HandsfreeError):
    """The shared server cannot be reached, refuses, or is of another version."""

    exit_code = 7


def in_words(error: Exception) -> ServerError:
    """Return a server's error as a sentence with what to do; never with a password in it."""
    text = " ".join(str(error).split())
    state = getattr(error, "sqlstate", None) or ""
    if state in {"28P01", "28000"} or "password authentication failed" in text:
        what = "The server refused the name or the password: check the password file (.pgpass)."
    elif "no password supplied" in text:
        what = "The server asks for a password: put it into the password file (.pgpass)."
    elif state == "53100" or "No space left" in text:
        what = "The server's disk is full: its keeper must make room."
    elif state == "42501" and "row-level security" in text:
        what = (
            "The server lets this role add nothing to a site or dog that is among what is to be "
            "sent: its keeper adds the site to the role (handsfree sync --sites says how)."
        )
    elif state == "42501":
        what = (
            "The server does not let this role do that: its keeper makes it a member of "
            "handsfree_station or handsfree_site."
        )
    elif state in {"3F000", "42P01", "42703", "42883"}:
        what = "The server has no handsfree tables: its keeper runs `handsfree sync --schema` once."
    elif state == "3D000":
        what = "The server has no database of this name: check its address."
    elif state == "25006":
        what = "The server takes no new records now (it is read only): ask its keeper."
    else:
        what = f"The server cannot be reached or the line was cut ({text[:160]})."
    return ServerError(f"{what} {KEPT}")
