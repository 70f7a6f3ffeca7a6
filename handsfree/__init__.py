"""handsfree: an offline, voice-guided, hands-free health check of a dog.

The package's map stands in DEVELOPERS.md. Data flows one way, from microphone to record;
nothing on the left of a stage imports anything on its right.
"""

__version__ = "0.1.0"
__all__ = ["__version__"]
