"""Opened with limits, written beside and renamed, safe names, zip and manifest: all that touches the file system."""
