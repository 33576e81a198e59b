"""taskdb: the desk-side library for gliding waypoints and tasks."""

__version__ = "0.1.0"
