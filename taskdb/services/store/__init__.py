"""The store itself: its journal, undoing, copies, and whether it is whole."""
